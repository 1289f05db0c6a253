package acquire

import "hawse/trial"

// AskingOf is what the port of a table is asked, nil where it is not. It fails if the trial file says something of an
// instrument that no decoder can be made of.
func AskingOf(t *trial.Trial, table string) (*Asking, error) {
	on := OnPort(t, table)
	if len(on) == 0 {
		return nil, nil
	}
	fits := map[string]func(frame []byte) bool{}
	for _, ins := range on {
		switch ins.Table {
		case trial.TableLoad:
			d, err := NewLoadDecoder(t.Load)
			if err != nil {
				return nil, err
			}
			fits[ins.Table] = d.Fits
		case trial.TableLine:
			d, err := NewLineDecoder(t.Line)
			if err != nil {
				return nil, err
			}
			fits[ins.Table] = d.Fits
		case trial.TableDepth:
			d, err := NewDepthDecoder(*t.Sounder)
			if err != nil {
				return nil, err
			}
			fits[ins.Table] = d.Fits
		default:
			if i, ok := t.Other(ins.Table); ok {
				d, err := NewLoadDecoder(t.Others[i].LoadCell)
				if err != nil {
					return nil, err
				}
				fits[ins.Table] = d.Fits
			}
		}
	}
	return NewAsking(on, fits), nil
}
