package kept

import (
	"encoding/json"
	"fmt"

	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/figure"
)

var verify = "run " + remedy.Verb("verify")

// A Verdict is how a cured part compares with its target, as printed and as
// kept with the reading.
type Verdict struct {
	Passes     bool           `json:"passes"`
	Under      string         `json:"under"`
	Formula    string         `json:"formula"`
	Difference figure.Number  `json:"difference" doc:"in the formula"`
	Tolerance  *figure.Number `json:"tolerance,omitempty"`
	DE00       figure.Number  `json:"dE00"`
	Words      string         `json:"words"`
	Chance     figure.Number  `json:"chance" doc:"of the part being within tolerance, the noise of the readings counted"`
	U          figure.Number  `json:"u,omitempty" doc:"standard uncertainty of the difference by the readings of part and target; with limits per axis as a share of the limit"`
	Expected   figure.Number  `json:"expected_dE00"`
	Target     figure.Lab     `json:"target_lab"`
	Part       figure.Lab     `json:"part_lab"`
	DL         figure.Number  `json:"dL" doc:"part less target"`
	DA         figure.Number  `json:"da"`
	DB         figure.Number  `json:"db"`
	DC         figure.Number  `json:"dC"`
	DH         figure.Number  `json:"dH"`
	Axes       []Axis         `json:"axes,omitempty"`
	Lights     []Light        `json:"lights,omitempty"`
	Note       string         `json:"note,omitempty"` // what was done to the reading
}

// An Axis is a difference along one axis and the limit the client sets to it.
type Axis struct {
	Axis   string        `json:"axis"`
	Value  figure.Number `json:"value"`
	Limit  figure.Number `json:"limit"`
	Passes bool          `json:"passes"`
}

// A Light is the difference under a light beside the main one.
type Light struct {
	Under      string        `json:"under"`
	Difference figure.Number `json:"difference"`
	Words      string        `json:"words"`
}

// VerdictOf is a finding as it is kept.
func VerdictOf(t recipes.Target, f recipes.Finding) Verdict {
	d, n := f.Difference, func(v float64) figure.Number { return figure.Number(v) }
	v := Verdict{Passes: f.Passes, Under: d.Std.Under.String(), Formula: string(d.Formula), Difference: n(d.DE), DE00: n(f.DE00),
		Words: f.Words, Chance: n(f.Chance), U: n(f.Uncertainty), Expected: n(f.Expected), Target: figure.LabOf(d.Std), Part: figure.LabOf(d.Sample),
		DL: n(d.DL), DA: n(d.DA), DB: n(d.DB), DC: n(d.DC), DH: n(d.DH)}
	if len(t.Axes) == 0 || t.Tolerance > 0 {
		v.Tolerance = figure.Of(t.Within())
	}
	for _, a := range f.Axes {
		v.Axes = append(v.Axes, Axis{a.Axis, n(a.Value), n(a.Limit), a.Passes})
	}
	for _, l := range f.Lights {
		v.Lights = append(v.Lights, Light{l.Std.Under.String(), n(l.DE), l.Words()})
	}
	return v
}

// Document is the verdict as the bench keeps it; empty for none.
func (v *Verdict) Document() (json.RawMessage, error) {
	if v == nil {
		return nil, nil
	}
	return json.Marshal(v)
}

// ReadVerdict reads the verdict kept with a reading of the pour of that ID; nil
// if it was not judged.
func ReadVerdict(id string, document json.RawMessage) (*Verdict, error) {
	if len(document) == 0 {
		return nil, nil
	}
	v := new(Verdict)
	return v, read(id+": its verdict", document, v)
}

// Word is the verdict in two words.
func (v *Verdict) Word() string {
	switch {
	case v == nil:
		return "not judged"
	case v.Passes:
		return "within tolerance"
	}
	return "outside tolerance"
}

// Line is the verdict in one line: CIEDE2000 1.62 of 1: darker, greener.
func (v *Verdict) Line() string {
	text := fmt.Sprintf("%s %.2f", v.Formula, v.Difference)
	if v.Tolerance != nil {
		text += " of " + figure.Short(float64(*v.Tolerance))
	}
	return text + ": " + v.Words
}
