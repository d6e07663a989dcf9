package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
)

// verdictView is a verdict in JSON, as printed and as kept with a reading.
type verdictView struct {
	Passes     bool        `json:"passes"`
	Under      string      `json:"under"`
	Formula    string      `json:"formula"`
	Difference fig         `json:"difference"`
	Tolerance  *fig        `json:"tolerance,omitempty"`
	DE00       fig         `json:"dE00"`
	Words      string      `json:"words"`
	Chance     fig         `json:"chance"`
	Expected   fig         `json:"expected_dE00"`
	Target     labView     `json:"target_lab"`
	Part       labView     `json:"part_lab"`
	DL         fig         `json:"dL"`
	DA         fig         `json:"da"`
	DB         fig         `json:"db"`
	DC         fig         `json:"dC"`
	DH         fig         `json:"dH"`
	Axes       []axisView  `json:"axes,omitempty"`
	Lights     []lightView `json:"lights,omitempty"`
	Note       string      `json:"note,omitempty"` // what was done to the reading
}

type axisView struct {
	Axis   string `json:"axis"`
	Value  fig    `json:"value"`
	Limit  fig    `json:"limit"`
	Passes bool   `json:"passes"`
}

type lightView struct {
	Under      string `json:"under"`
	Difference fig    `json:"difference"`
	Words      string `json:"words"`
}

const verdictKeys = `passes, under, formula,
difference (in the formula), tolerance, dE00, words, chance (of the part being
within tolerance, the noise of the readings counted), expected_dE00, target_lab,
part_lab, dL, da, db, dC, dH (part less target), axes (a list of axis, value, limit,
passes), lights (a list of under, difference, words)`

func viewVerdict(t recipes.Target, f recipes.Finding) verdictView {
	d := f.Difference
	v := verdictView{Passes: f.Passes, Under: d.Std.Under.String(), Formula: string(d.Formula), Difference: fig(d.DE), DE00: fig(f.DE00),
		Words: f.Words, Chance: fig(f.Chance), Expected: fig(f.Expected), Target: viewLab(d.Std), Part: viewLab(d.Sample),
		DL: fig(d.DL), DA: fig(d.DA), DB: fig(d.DB), DC: fig(d.DC), DH: fig(d.DH)}
	if len(t.Axes) == 0 || t.Tolerance > 0 {
		within := fig(t.Within())
		v.Tolerance = &within
	}
	for _, a := range f.Axes {
		v.Axes = append(v.Axes, axisView{a.Axis, fig(a.Value), fig(a.Limit), a.Passes})
	}
	for _, l := range f.Lights {
		v.Lights = append(v.Lights, lightView{l.Std.Under.String(), fig(l.DE), l.Words()})
	}
	return v
}

// inspect judges a part read for a recipe; nil if the recipe is for no target.
func inspect(ctx context.Context, b *archive.Bench, r archive.Recipe, piece readings.Piece) (*verdictView, error) {
	t, err := targetOf(ctx, b, r)
	if err != nil || t == nil {
		return nil, err
	}
	cal, err := noiseOf(ctx, b, r)
	if err != nil {
		return nil, err
	}
	target, err := recipesTarget(ctx, b, *t, cal, r.ThicknessMM, r.Backing)
	if err != nil {
		return nil, err
	}
	part, err := pieceAsPour(ctx, b, r, piece)
	if err != nil {
		return nil, err
	}
	finding, err := recipes.Inspect(target, part, cal.Noise)
	if err != nil {
		return nil, err
	}
	v := viewVerdict(target, finding)
	if _, v.Note, err = asTarget(ctx, b, r, piece); err != nil {
		return nil, err
	}
	return &v, nil
}

// noiseOf is a recipe's calibration for what it says of the instrument and the
// main light: an empty one for a recipe without.
func noiseOf(ctx context.Context, b *archive.Bench, r archive.Recipe) (*calibrate.Calibration, error) {
	if r.Calibration == "" {
		return &calibrate.Calibration{Main: color.D65Ten()}, nil
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return nil, err
	}
	return openCalibration(stored)
}

// document is the verdict as the bench keeps it.
func (v *verdictView) document() (json.RawMessage, error) {
	if v == nil {
		return nil, nil
	}
	return json.Marshal(v)
}

// word is the verdict in two words.
func (v *verdictView) word() string {
	switch {
	case v == nil:
		return "not judged"
	case v.Passes:
		return "within tolerance"
	}
	return "outside tolerance"
}

// line is the verdict in one line: CIEDE2000 1.62 of 1: darker, greener.
func (v *verdictView) line() string {
	text := fmt.Sprintf("%s %.2f", v.Formula, float64(v.Difference))
	if v.Tolerance != nil {
		text += fmt.Sprintf(" of %s", short(float64(*v.Tolerance)))
	}
	return text + ": " + tidy(v.Words)
}

func printVerdict(env *Env, v *verdictView) {
	env.print("%s%s: %s", strings.ToUpper(v.word()[:1]), v.word()[1:], v.line())
	t := newTable("under "+v.Under, ">L*", ">a*", ">b*", ">C*", ">H*")
	lab := func(name string, l labView) {
		t.add(name, fmt.Sprintf("%.2f", float64(l.L)), fmt.Sprintf("%.2f", float64(l.A)), fmt.Sprintf("%.2f", float64(l.B)))
	}
	lab("target", v.Target)
	lab("part", v.Part)
	signed := func(f fig) string { return fmt.Sprintf("%+.2f", float64(f)) }
	t.add("part less target", signed(v.DL), signed(v.DA), signed(v.DB), signed(v.DC), signed(v.DH))
	if len(v.Axes) > 0 {
		limits := map[string]axisView{}
		for _, a := range v.Axes {
			limits[a.Axis] = a
		}
		row := []string{"limit"}
		for _, axis := range recipes.Axes() {
			cell := ""
			if a, limited := limits[axis]; limited {
				cell = short(float64(a.Limit))
				if !a.Passes {
					cell += " over"
				}
			}
			row = append(row, cell)
		}
		t.add(row...)
	}
	t.print(env.Stdout)
	for _, l := range v.Lights {
		env.print("under %s %s %.2f: %s", l.Under, v.Formula, float64(l.Difference), l.Words)
	}
	if v.Note != "" {
		env.print("The part was %s.", tidy(v.Note))
	}
	env.print("Chance that the part is within tolerance, the noise of the readings counted: %.0f %%.", 100*float64(v.Chance))
}

// toleranceText says what a client accepts.
func toleranceText(t archive.Target) string {
	var parts []string
	if t.Tolerance > 0 || len(t.Limits) == 0 {
		parts = append(parts, short(t.Tolerance)+" "+t.Formula)
	}
	for _, axis := range recipes.Axes() {
		if limit, limited := t.Limits[axis]; limited {
			parts = append(parts, fmt.Sprintf("d%s %s", axis, short(limit)))
		}
	}
	return listed(parts)
}

// axisLimits is a flag of limits per axis: L=0.8,a=0.5.
type axisLimits struct{ value *map[string]float64 }

func (a axisLimits) Type() string { return "AXIS=MOST" }

func (a axisLimits) String() string {
	if a.value == nil {
		return ""
	}
	var parts []string
	for _, axis := range slices.Sorted(maps.Keys(*a.value)) {
		parts = append(parts, axis+"="+short((*a.value)[axis]))
	}
	return strings.Join(parts, ",")
}

func (a axisLimits) Set(text string) error {
	if *a.value == nil {
		*a.value = map[string]float64{}
	}
	for part := range strings.SplitSeq(text, ",") {
		name, most, found := strings.Cut(part, "=")
		axis := strings.TrimPrefix(strings.TrimSuffix(strings.TrimSpace(name), "*"), "d")
		if i := slices.IndexFunc(recipes.Axes(), func(x string) bool { return strings.EqualFold(x, axis) }); i >= 0 {
			axis = recipes.Axes()[i]
		} else {
			found = false
		}
		if !found {
			return fmt.Errorf("is no list of limits; write AXIS=MOST,AXIS=MOST with axes L, a, b, C, H, such as L=0.8,a=0.5,b=0.5")
		}
		v, err := inDE.parse(most)
		if err != nil {
			return fmt.Errorf("%s=%s %w", axis, most, err)
		}
		if _, twice := (*a.value)[axis]; twice {
			return fmt.Errorf("limits %s twice; give it once", axis)
		}
		(*a.value)[axis] = v
	}
	return nil
}
