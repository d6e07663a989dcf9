package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
)

type findOptions struct {
	archive.FindQuery
	since, until         string
	lab, target, ofOwner string
	reading              readingFlags
	count                int
	adjust               bool
}

func newFindCommand(env *Env) *cobra.Command {
	var o findOptions
	cmd := &cobra.Command{
		Use:   "find [WORDS]",
		Short: "Find archived recipes by words, by date and by colour",
		Long: `Finds archived recipes, in any resin: those in which every word is the beginning of
a word of client, part, target, resin, pigments or note.

With --lab or --target they are sorted by CIEDE2000 from that colour, the nearest
first: from the colour a recipe was approved at, else from the one predicted. What
it would take to adjust the nearest is then solved among its own pigments.

  masstone find tern harbour --since 2025-01-01
  masstone find --lab 64,-9,-4 --illuminant D65 --count 5
  masstone find --target "Pier bench / slat" --approved

JSON keys: recipes, a list of the keys of "recipe show" with version (newest
approval, 0 if none) and, by colour, distance_dE00, at_color (under, lab),
approved_color; adjust: recipe, resin, calibration, loadings_phr, change_phr,
expected_dE00, upper95_dE00, chance, as_it_is_dE00 (expected), note.`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Words = strings.Join(args, " ")
			return runFind(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Client, "client", "", "of this client only")
	f.StringVar(&o.Part, "part", "", "of this part only")
	f.StringVar(&o.Resin, "resin", "", "in this resin only")
	f.StringVar(&o.since, "since", "", "stored on this `DAY` or later, 2026-03-31")
	f.StringVar(&o.until, "until", "", "stored on this `DAY` or before")
	f.BoolVar(&o.Approved, "approved", false, "approved recipes only")
	f.StringVar(&o.lab, "lab", "", "sort by distance from this colour, `L,a,b`, with --illuminant")
	f.StringVar(&o.target, "target", "", "sort by distance from this target")
	f.StringVar(&o.ofOwner, "target-client", "", "client of --target, where several have a target of this name")
	f.IntVar(&o.count, "count", 20, "most recipes to give")
	f.BoolVar(&o.adjust, "adjust", true, "say what it takes to adjust the nearest")
	numberVar(f, &o.reading.thickness, "thickness", inMM, 0, "thickness of the new part, for the adjustment (else the target's, or the recipe's)")
	f.StringVar(&o.reading.over, "over", "", "backing behind the new part (else the target's, or the recipe's)")
	o.reading.addConditions(f)
	return cmd
}

// A hit is a recipe found.
type hit struct {
	archive.Found
	near *archive.Near // by colour
}

func runFind(ctx context.Context, env *Env, o findOptions) error {
	if o.count < 1 {
		return misusef("--count %d: is out of range; give 1 or more", o.count)
	}
	if o.lab != "" && o.target != "" {
		return misusef("find: give either --lab or --target")
	}
	var err error
	if o.Since, err = dayFlag("since", o.since); err != nil {
		return err
	}
	if o.Until, err = dayFlag("until", o.until); err != nil {
		return err
	}
	if !o.Until.IsZero() {
		o.Until = o.Until.AddDate(0, 0, 1) // that day included
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		wanted, err := o.wanted(ctx, b)
		if err != nil {
			return err
		}
		var hits []hit
		var a *adjustment
		if wanted == nil {
			hits, err = o.byWords(ctx, b)
		} else if hits, err = o.byColour(ctx, b, wanted.main); err == nil && o.adjust && len(hits) > 0 {
			a, err = wanted.adjust(ctx, b, hits[0].Recipe)
		}
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewFind(hits, a))
		}
		if len(hits) == 0 {
			env.say("no recipe found")
			return nil
		}
		printFind(env, hits, wanted, a)
		return nil
	})
}

// dayFlag reads a day.
func dayFlag(name, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return t, misusef("--%s %q: is no day; write it as 2026-03-31", name, text)
	}
	return t, nil
}

func (o *findOptions) byWords(ctx context.Context, b *archive.Bench) ([]hit, error) {
	q := o.FindQuery
	q.Limit = o.count
	found, err := b.Find(ctx, q)
	hits := make([]hit, len(found))
	for i, f := range found {
		hits[i].Found = f
	}
	return hits, err
}

// byColour lists the nearest recipes that are also found by the words. The
// nearest are asked for in growing numbers until enough of them are.
func (o *findOptions) byColour(ctx context.Context, b *archive.Bench, lab color.Lab) ([]hit, error) {
	q := o.FindQuery
	q.Limit = math.MaxInt32
	var among map[string]int // version by Ref
	if plain := (archive.FindQuery{Resin: q.Resin, Approved: q.Approved, Limit: q.Limit}); q != plain {
		found, err := b.Find(ctx, q)
		if err != nil {
			return nil, err
		}
		among = map[string]int{}
		for _, f := range found {
			among[f.Recipe.Ref] = f.Version
		}
	}
	for limit := o.count; ; limit *= 10 {
		near, err := b.Nearest(ctx, archive.NearestQuery{Lab: archive.LabOf(lab), Limit: limit, Resin: o.Resin, Approved: o.Approved})
		if err != nil {
			return nil, err
		}
		var hits []hit
		for i, n := range near {
			version, listed := among[n.Recipe.Ref]
			if among != nil && !listed {
				continue
			}
			hits = append(hits, hit{archive.Found{Recipe: n.Recipe, Version: version}, &near[i]})
			if len(hits) == o.count {
				break
			}
		}
		if len(hits) == o.count || len(near) < limit {
			return hits, versionsOf(ctx, b, hits)
		}
	}
}

// versionsOf fills in the newest approval of recipes found by colour alone.
func versionsOf(ctx context.Context, b *archive.Bench, hits []hit) error {
	for i := range hits {
		h := &hits[i]
		if h.Recipe.Target == "" || h.Version > 0 {
			continue
		}
		all, err := b.Approvals(ctx, h.Recipe.Client, h.Recipe.Target)
		if err != nil {
			continue // a target without a client whose name others have: not told
		}
		if n := slices.IndexFunc(all, func(a archive.Approval) bool { return a.Recipe == h.Recipe.Ref }); n >= 0 {
			h.Version = all[n].Version
		}
	}
	return nil
}

// A wantedColour is what recipes are sought near.
type wantedColour struct {
	main   color.Lab
	name   string
	target *archive.Target // nil if typed
	o      *findOptions
}

func (o *findOptions) wanted(ctx context.Context, b *archive.Bench) (*wantedColour, error) {
	switch {
	case o.lab != "":
		if o.reading.illuminant == "" {
			return nil, misusef("find: --illuminant is missing; say under which light --lab is meant, such as --illuminant D65 --observer 10")
		}
		lab, err := readings.Typed(o.lab, o.reading.condition())
		if err != nil {
			return nil, misuse{fmt.Errorf("--lab %w", err)}
		}
		return &wantedColour{lab, labText(lab), nil, o}, nil
	case o.target != "":
		t, err := b.Target(ctx, o.ofOwner, o.target)
		if err != nil {
			return nil, err
		}
		piece, err := pieceOf(t.Name, t.Readings)
		if err != nil {
			return nil, err
		}
		labs, err := colors(piece, nil)
		if err != nil {
			return nil, err
		}
		return &wantedColour{labs[0], t.Name, &t, o}, nil
	}
	return nil, nil
}

// An adjustment is what it takes to bring a recipe to a new colour.
type adjustment struct {
	from     archive.Recipe
	stored   archive.Calibration
	found    *recipes.Recipe
	asItIs   float64
	whyNot   string
	pigments []string
}

// adjust solves the nearest recipe again, among its own pigments.
func (w *wantedColour) adjust(ctx context.Context, b *archive.Bench, r archive.Recipe) (*adjustment, error) {
	a := &adjustment{from: r, pigments: codesOf(r)}
	if r.Calibration == "" {
		a.whyNot = "it was typed in, so what an adjustment does is not known"
		return a, nil
	}
	stored, cal, err := calibrationOn(ctx, b, r.Resin, 0)
	if err != nil {
		return nil, err
	}
	a.stored = stored
	if slices.ContainsFunc(a.pigments, func(code string) bool { return cal.Index(code) == 0 }) {
		a.whyNot = fmt.Sprintf("calibration %s does not know all its pigments", stored.Name())
		return a, nil
	}
	if cal, _, _, err = withLotsInUse(ctx, b, stored, cal, a.pigments); err != nil {
		return nil, err
	}
	target, err := w.asTarget(ctx, b, r, cal)
	if err != nil {
		return nil, err
	}
	judge, err := recipes.NewJudge(cal, target)
	if err != nil {
		return nil, err
	}
	_, landing, err := judge.Land(phrs(r.Loadings), nil)
	if err != nil {
		return nil, err
	}
	a.asItIs = landing.Expected
	resin, err := b.Resin(ctx, r.Resin)
	if err != nil {
		return nil, err
	}
	limits, err := limitsOf(ctx, b, matchOptions{grams: usualGrams, scale: 0.01}, resin, stored, cal)
	if err != nil {
		return nil, err
	}
	adjusted, err := recipes.Adjust(cal, target, phrs(r.Loadings), limits)
	if err != nil {
		return nil, err
	}
	a.found = &adjusted
	return a, nil
}

// asTarget is the wanted colour as a target for the part a recipe is for.
func (w *wantedColour) asTarget(ctx context.Context, b *archive.Bench, r archive.Recipe, cal *calibrate.Calibration) (recipes.Target, error) {
	thickness, over := firstKnown(w.o.reading.thickness, r.ThicknessMM, usualThickness), firstText(w.o.reading.over, r.Backing, "white")
	if w.target != nil {
		return recipesTarget(ctx, b, *w.target, cal, firstKnown(w.o.reading.thickness, w.target.ThicknessMM, thickness), firstText(w.o.reading.over, w.target.Backing, over))
	}
	setting, err := settingOf(ctx, b, thickness, over, w.o.reading.measurement().Specular)
	return recipes.Target{Name: w.name, Labs: []color.Lab{w.main}, Readings: 1, Setting: setting}, err
}
