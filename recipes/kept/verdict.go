package kept

import (
	"encoding/json"
	"fmt"
	"math"

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
	// Settled is where a part that was read young is expected to end.
	Settled *Settled `json:"settled,omitempty" doc:"where a part that was read young is expected to end"`
}

// Settled is how a part that was read young is expected to compare once it has
// settled.
type Settled struct {
	AgeH       figure.Number `json:"age_h" doc:"at which it was read"`
	AtH        figure.Number `json:"at_h" doc:"at which it counts as settled"`
	Parts      int           `json:"learnt_from" doc:"parts of the resin read at several ages; 0 where nothing is learnt, nothing assumed and the bars are a prior's"`
	Source     string        `json:"source"`
	DL         figure.Number `json:"change_dL" doc:"expected until then"`
	DA         figure.Number `json:"change_da"`
	DB         figure.Number `json:"change_db"`
	SD         figure.Number `json:"change_sd" doc:"of an axis, on average"`
	Difference figure.Number `json:"difference" doc:"in the formula"`
	Low95      figure.Number `json:"low95" doc:"of the difference"`
	High95     figure.Number `json:"high95"`
	DE00       figure.Number `json:"dE00"`
	Part       figure.Lab    `json:"part_lab"`
	Passes     bool          `json:"passes" doc:"as expected"`
	Chance     figure.Number `json:"chance" doc:"of the part being within tolerance then, all noise counted"`
	U          figure.Number `json:"u" doc:"standard uncertainty of the difference, that of the change counted"`
	Expected   figure.Number `json:"expected_dE00"`
}

// SettledOf is a finding on a part once settled, but for how it was foreseen.
func SettledOf(f recipes.Finding) Settled {
	d, n := f.Difference, func(v float64) figure.Number { return figure.Number(v) }
	return Settled{Difference: n(d.DE), Low95: n(f.Low95), High95: n(f.High95), DE00: n(f.DE00), Part: figure.LabOf(d.Sample),
		Passes: f.Passes, Chance: n(f.Chance), U: n(f.Uncertainty), Expected: n(f.Expected)}
}

// SettledLine says in a line where a part that was read young is expected to end,
// empty for others: read at 24 h: reads 1.30 now, 0.60 expected at 7 d (95 %: 0.30 to
// 0.94), within tolerance then with a chance of 98 %; learnt from 5 parts of the resin.
func (v *Verdict) SettledLine() string {
	if v == nil || v.Settled == nil {
		return ""
	}
	s := v.Settled
	how := fmt.Sprintf("how the resin changes until then is not learnt: nothing is assumed, and %.2f (sd) per axis counts as open (%s)", s.SD, s.Source)
	if s.Parts > 0 {
		how = fmt.Sprintf("learnt from %s of the resin", figure.Count(s.Parts, "part"))
	}
	return fmt.Sprintf("read at %s: reads %.2f now, %.2f expected at %s (95 %%: %.2f to %.2f), within tolerance then with a chance of %.0f %%; %s",
		Age(float64(s.AgeH)), v.Difference, s.Difference, Age(float64(s.AtH)), s.Low95, s.High95, 100*s.Chance, how)
}

// Age is an age in words: 24 h, 7 d.
func Age(hours float64) string {
	if days := hours / 24; days >= 2 && days == math.Trunc(days) {
		return figure.Short(days) + " d"
	}
	return figure.Short(hours) + " h"
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
