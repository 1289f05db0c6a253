// Package session is the one place where sequencer, Core and Judge are put
// together. Live capture, replay and results run it over the same records.
//
// The record comes first: every byte that arrives, every act of a person and
// the passing of time itself become a numbered record; everything shown is a
// fold over those records. [Core] is the small fold that may stop a pull;
// [Judge] is the larger one that explains it. Both are pure.
package session
