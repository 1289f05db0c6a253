// Package report makes the report of a trial: pages, tables and plots, from what
// the logs of its pulls came to. It is pure: [Campaign] in, the bytes of files
// out ([Make]); whoever calls it reads the logs and writes the files. The same
// logs give the same bytes.
//
// Numbers of a [Campaign] are SI, missing ones NaN; what is printed is in the
// crew's units ([trial.Show]), with two or three digits. CSV tables keep SI, with
// the unit in the header.
//
// Texts come from logs, so they are data: they are escaped where they are
// printed, and no name of a file is made from them unchecked.
package report
