package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial/calibrate"
)

// marksDoc is `hawse calibrate --json` of a line counter.
type marksDoc struct {
	File     string     `json:"file"`
	HaulSign int        `json:"haul_sign"` // +1: counts rise while hauling
	Layers   []layerDoc `json:"layers"`
	Notes    []string   `json:"notes"`
}

type layerDoc struct {
	Layer     string   `json:"layer,omitempty"`
	N         int      `json:"n"`
	From      float64  `json:"from_m"`
	To        float64  `json:"to_m"`
	PerMetre  float64  `json:"counts_per_m"`
	StdErr    float64  `json:"standard_error_per_m"`
	SD        float64  `json:"residual_sd_m"`
	WaysApart *float64 `json:"in_less_out_m,omitempty"`
}

func (f *calibrateFlags) marks(c *cobra.Command, path string, text []byte) error {
	m, err := calibrate.ReadMarks(path, text)
	if err != nil {
		return err
	}
	if f.svg != "" || f.earlier != "" {
		return cli.Usage("--svg and --before go with a load cell, not with marks")
	}
	out := c.OutOrStdout()
	if f.asJSON {
		d := marksDoc{File: path, HaulSign: m.HaulSign, Notes: append([]string{}, m.Notes...)}
		for _, l := range m.Layers {
			doc := layerDoc{l.Name, l.N, l.From, l.To, l.PerMetre, l.StdErr, l.ResidualSD, nil}
			if l.HasWays {
				doc.WaysApart = &l.WaysApart
			}
			d.Layers = append(d.Layers, doc)
		}
		return cli.WriteJSON(out, d)
	}
	p := &limitsPage{}
	if !f.onlyBlock {
		p.line(2, "%s: marks against counts; counts %s while hauling", visible(path), map[int]string{1: "rise", -1: "fall"}[m.HaulSign])
		for _, l := range m.Layers {
			ways := ""
			if l.HasWays {
				ways = fmt.Sprintf("; in and out %.3f m apart", math.Abs(l.WaysApart))
			}
			p.line(4, "  %s%d marks, %g to %g m: %.6g counts/m, standard error %.3g; scatter %.3f m%s",
				strings.TrimLeft("layer "+l.Name+": ", " "), l.N, l.From, l.To, l.PerMetre, l.StdErr, l.ResidualSD, ways)
		}
		for i, n := range m.Notes {
			if i == 0 {
				p.WriteString("\nNOTES\n")
			}
			p.line(4, "  %s", n)
		}
		p.WriteString("\nFOR THE TRIAL FILE\n")
	}
	p.WriteString(m.Block())
	_, err = io.WriteString(out, p.String())
	return err
}
