package main

import (
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

func newPlanCommand(env *Env) *cobra.Command {
	return newFamily("plan", "Which chips to cast: the first ones, the next ones", newPlanStartCommand(env), newPlanNextCommand(env))
}

// planOptions are how the shop casts and reads a chip, and where a plan goes.
type planOptions struct {
	resin                       string
	chipGrams, scale, thickness float64
	over, whites                []string
	labels                      string
	paper                       paperFlags
}

// addFlags adds the flags that both plans have.
func (o *planOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	numberVar(f, &o.chipGrams, "chip-grams", inGrams, 0, "mixed resin in a chip's cup (else as most chips of the resin, else 50 g)")
	numberVar(f, &o.scale, "scale", inGrams, 0, "step of the scale (else as most chips, else 0.01 g)")
	numberVar(f, &o.thickness, "thickness", inMM, 0, "thickness of a chip (else as most chips, else 3 mm)")
	f.StringSliceVar(&o.over, "over", nil, "`BACKINGS` a chip can be read over, the usual one first (else those of the chips, else white,black)")
	f.StringSliceVar(&o.whites, "whites", nil, "`CODES` of the whites, the one to let colours down in first")
	f.StringVar(&o.labels, "labels", "", "write labels for the chips to `FILE` too")
	o.paper.add(f, "the plan")
}

const planHelp = `A plan is a list to tick off: what goes into each cup in the order of weighing, in
whole steps of the scale, and what it is read over. Its .csv has a row per chip
with the loadings filled in and the readings left open: fill them in and take it in
with masstone chip import. --labels writes labels with QR codes for the chips.

` + paperHelp

const planKeys = `resin, chip_grams, scale_g, thickness_mm, whites, lights,
spectrum (how each will be read), chips (a list of chip, over, thickness_mm,
loadings_phr, grams (of paste by pigment), weigh (what goes into the cup: item,
kind, grams, cumulative_grams, paste_grams, starts_pot_life)`

// check checks where the plan goes before it is worked out.
func (o *planOptions) check(env *Env) error {
	if err := o.paper.check(env); err != nil || o.labels == "" {
		return err
	}
	format, err := papers.FormatOf(o.labels)
	if err != nil {
		return misuse{errors.New("--labels " + err.Error())}
	}
	return env.free(o.labels, o.paper.overwrite || format != papers.CSV)
}

// bench is how chips are cast and read: as the flags say, else as most chips of
// the resin were.
func (o *planOptions) bench(ctx context.Context, b *archive.Bench, resin archive.Resin, chips []archive.Chip) (*castplan.Bench, error) {
	grams, scale, thickness := usual(chips, func(c archive.Chip) float64 { return c.ChipGrams }), usual(chips, func(c archive.Chip) float64 { return c.ScaleGrams }),
		usual(chips, func(c archive.Chip) float64 { return c.ThicknessMM })
	o.chipGrams, o.scale, o.thickness = firstKnown(o.chipGrams, grams, 50), firstKnown(o.scale, scale, 0.01), firstKnown(o.thickness, thickness, usualThickness)
	if len(o.over) == 0 {
		o.over = usualBackings(chips)
	}
	out := &castplan.Bench{ChipGrams: calibrate.Grams(o.chipGrams), ScaleGrams: calibrate.Grams(o.scale), Thickness: calibrate.ThicknessMM(o.thickness),
		Measurement: (&readingFlags{}).measurement(), MaxPHR: calibrate.PHR(resin.MaxPHR)}
	if way := usual(chips, wayOf); way != (color.Measurement{}) {
		out.Measurement = way
	}
	for _, name := range o.over {
		k, err := b.Backing(ctx, strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		r, err := reflectanceOf(k)
		if err != nil {
			return nil, err
		}
		out.Backings = append(out.Backings, castplan.Backing{Name: k.Name, Reflectance: r})
	}
	return out, out.Check()
}

func wayOf(c archive.Chip) color.Measurement {
	if len(c.Readings) == 0 {
		return color.Measurement{}
	}
	return color.Measurement{Geometry: color.Geometry(c.Readings[0].Geometry), Specular: color.Specular(c.Readings[0].Specular)}
}

// usual is what most chips have, the first of equals.
func usual[V comparable](chips []archive.Chip, of func(archive.Chip) V) V {
	count := map[V]int{}
	var best V
	for _, c := range chips {
		count[of(c)]++
	}
	for _, c := range chips {
		if count[of(c)] > count[best] {
			best = of(c)
		}
	}
	return best
}

// usualBackings are those of the chips, the most used first.
func usualBackings(chips []archive.Chip) []string {
	count := map[string]int{}
	var names []string
	for _, c := range chips {
		if count[c.Backing] == 0 {
			names = append(names, c.Backing)
		}
		count[c.Backing]++
	}
	if len(names) == 0 {
		return []string{"white", "black"}
	}
	slices.SortStableFunc(names, func(a, b string) int { return count[b] - count[a] })
	return names
}

// plannedView is a chip to cast in JSON.
type plannedView struct {
	Chip        string         `json:"chip"`
	Over        string         `json:"over"`
	ThicknessMM fig            `json:"thickness_mm"`
	Loadings    map[string]fig `json:"loadings_phr"`
	Grams       map[string]fig `json:"grams"`
	Weigh       []batch.Line   `json:"weigh"`
	After       *fig           `json:"after_dE00,omitempty"`
	Helps       *helpsView     `json:"helps_most,omitempty"`
}

type helpsView struct {
	What     string         `json:"what,omitempty"`
	Loadings map[string]fig `json:"loadings_phr"`
	Before   fig            `json:"before_dE00"`
	After    fig            `json:"after_dE00"`
}

// planView is a plan in JSON.
type planView struct {
	Resin       string        `json:"resin"`
	Calibration string        `json:"calibration,omitempty"`
	For         []string      `json:"for,omitempty"`
	Mixtures    int           `json:"mixtures,omitempty"`
	Before      *fig          `json:"before_dE00,omitempty"`
	After       *fig          `json:"after_dE00,omitempty"`
	ChipGrams   fig           `json:"chip_grams"`
	ScaleGrams  fig           `json:"scale_g"`
	ThicknessMM fig           `json:"thickness_mm"`
	Whites      []string      `json:"whites"`
	Lights      []string      `json:"lights"`
	Spectrum    bool          `json:"spectrum"`
	Chips       []plannedView `json:"chips"`
	Notes       []string      `json:"notes"`
}

// planPaper is a plan as it is printed.
func planPaper(o *planOptions, names map[string]string, resin archive.Resin, chips []castplan.Chip, read castplan.Reading, h papers.Heading) papers.ChipPlan {
	p := papers.ChipPlan{Heading: h, Resin: resin.Code, Mix: mixOf(resin), PigmentSide: batch.Side(resin.PigmentSide), ChipGrams: batch.Grams(o.chipGrams),
		Step: batch.Grams(o.scale), PotLife: resin.PotLife.Minutes(), Names: names, Lights: read.Lights, Spectrum: read.Spectrum}
	for _, c := range chips {
		one := papers.PlannedChip{Name: c.Name, Backing: c.Backing.Name, ThicknessMM: float64(c.Bench.Thickness), Loadings: c.Loadings, Grams: map[string]batch.Mass{}}
		for code, g := range c.Grams {
			one.Grams[code] = batch.Grams(float64(g))
		}
		p.Chips = append(p.Chips, one)
	}
	return p
}

// put writes a plan where it is wanted: v is what --json prints of it.
func (o *planOptions) put(env *Env, p papers.ChipPlan, v planView) error {
	if o.labels != "" {
		labels := papers.Labels{Heading: p.Heading, Labels: papers.ChipLabels(p)}
		if err := o.paper.write(env, o.labels, labels); err != nil {
			return err
		}
	}
	if o.paper.out != "" {
		if err := o.paper.write(env, o.paper.out, p); err != nil {
			return err
		}
	}
	if env.JSON {
		return env.emit(o.view(p, v))
	}
	if o.paper.out == "" {
		if err := o.paper.put(env, p); err != nil {
			return err
		}
	} else {
		env.print("plan of %s written to %s", plural(len(p.Chips), "chip"), tidy(o.paper.out))
	}
	if o.labels != "" {
		env.print("%s written to %s", plural(len(p.Chips), "label"), tidy(o.labels))
	}
	return nil
}

// view fills in what both plans say.
func (o *planOptions) view(p papers.ChipPlan, v planView) planView {
	v.Resin, v.ChipGrams, v.ScaleGrams, v.ThicknessMM = p.Resin, fig(o.chipGrams), fig(o.scale), fig(o.thickness)
	v.Whites, v.Spectrum, v.Lights, v.Notes = append([]string{}, o.whites...), p.Spectrum, []string{}, append([]string{}, p.Notes...)
	for _, l := range p.Lights {
		v.Lights = append(v.Lights, l.String())
	}
	extra := v.Chips
	v.Chips = make([]plannedView, len(p.Chips))
	for i, c := range p.Chips {
		one := plannedView{Chip: c.Name, Over: c.Backing, ThicknessMM: fig(c.ThicknessMM), Loadings: figures(c.Loadings), Grams: map[string]fig{}, Weigh: p.Weigh(c)}
		for code, g := range c.Grams {
			one.Grams[code] = fig(g.Grams())
		}
		if len(extra) > 0 {
			one.After, one.Helps = extra[i].After, extra[i].Helps
		}
		v.Chips[i] = one
	}
	return v
}
