package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/recipes"
	"masstone/recipes/archive"
)

type planNextOptions struct {
	planOptions
	count   int
	version int
	targets []string
	client  string
}

func newPlanNextCommand(env *Env) *cobra.Command {
	var o planNextOptions
	cmd := &cobra.Command{
		Use:   "next RESIN",
		Short: "Which chips to cast next, and what each buys",
		Long: `Ranks the chips worth casting by how much each would lower the expected error
(CIEDE2000) of the mixtures of interest, given what the calibration leaves open:
those of the recipes for --for TARGET, stored ones or else what a match finds, or
without it mixtures spread over the gamut. Each chip is chosen for what it adds to
the ones before it; the figures are what the calibration will claim once they are
read and fitted. Chips are planned as most of the resin's were cast and read.

` + planHelp + `

  masstone plan next CLR --count 3
  masstone plan next CLR --for "Harbour lamp / housing" --out plan.pdf

JSON keys: calibration, for (targets), mixtures (of interest), before_dE00,
after_dE00 (their mean expected error now and with all chips),
` + planKeys + `,
after_dE00 (with this chip and those before it), helps_most (the mixture of interest
that gains most: what, loadings_phr, before_dE00, after_dE00)), notes.`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runPlanNext(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.count, "count", 3, "chips to plan")
	f.StringArrayVar(&o.targets, "for", nil, "`TARGET` whose recipes should be known well (may be repeated)")
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.IntVar(&o.version, "calibration", 0, "version of the calibration (else the newest)")
	o.addFlags(cmd)
	return cmd
}

// interest is what a plan is made for.
type interest struct {
	mixtures []castplan.Interest
	names    []string // of the mixtures, empty without targets
}

// spread is how many mixtures stand for the gamut.
const spread = 100

// mostRecipes is how many recipes of a target count.
const mostRecipes = 5

func runPlanNext(ctx context.Context, env *Env, o planNextOptions) error {
	if o.count < 1 || o.count > 50 {
		return misusef("--count %d: is out of range; give 1 to 50", o.count)
	}
	if err := o.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := b.Resin(ctx, o.resin)
		if err != nil {
			return err
		}
		stored, cal, err := calibrationOn(ctx, b, resin.Code, o.version)
		if err != nil {
			return err
		}
		archived, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		bench, err := o.bench(ctx, b, resin, archived)
		if err != nil {
			return err
		}
		if len(o.whites) == 0 {
			if o.whites, err = castplan.Whites(cal); err != nil {
				return err
			}
		}
		in, err := o.interest(ctx, b, resin, stored, cal, bench)
		if err != nil {
			return err
		}
		candidates, err := o.candidates(ctx, b, cal, bench, in, archived)
		if err != nil {
			return err
		}
		read := castplan.ReadingOf(cal)
		p := env.progress()
		p.step("weighing up what each chip would teach")
		plan, err := castplan.Next(ctx, cal, castplan.Request{Reading: read, Candidates: candidates, Interest: in.mixtures, Count: o.count})
		p.end()
		if err != nil {
			return fmt.Errorf("plan for %s: %w", resin.Code, err)
		}
		if len(plan.Steps) == 0 {
			return fmt.Errorf("plan for %s: every chip worth asking about was cast already", resin.Code)
		}
		names, err := pigmentNames(ctx, b)
		if err != nil {
			return err
		}
		return o.print(env, resin, stored, names, plan, in, read)
	})
}

// print puts the plan where it is wanted.
func (o *planNextOptions) print(env *Env, resin archive.Resin, stored archive.Calibration, names map[string]string, plan castplan.Plan, in interest, read castplan.Reading) error {
	chips := make([]castplan.Chip, len(plan.Steps))
	for i, s := range plan.Steps {
		chips[i] = s.Chip
	}
	p := planPaper(&o.planOptions, names, resin, chips, read, o.paper.heading(env))
	p.Plan = "Next chips after " + stored.Name()
	p.Before, p.After = plan.Before, plan.Steps[len(plan.Steps)-1].After
	before, after := fig(p.Before), fig(p.After)
	v := planView{Calibration: stored.Name(), For: o.targets, Mixtures: len(in.mixtures), Before: &before, After: &after}
	for i, s := range plan.Steps {
		mix := in.mixtures[s.Helps]
		what := recipeText(mix.Loadings, " ", ", ")
		helps := helpsView{Loadings: figures(mix.Loadings), Before: fig(s.HelpsBefore), After: fig(s.HelpsAfter)}
		if len(in.names) > 0 {
			helps.What = in.names[s.Helps]
			what = helps.What + " (" + what + ")"
		}
		left := fig(s.After)
		v.Chips = append(v.Chips, plannedView{After: &left, Helps: &helps})
		p.Chips[i].Why = fmt.Sprintf("brings the mean to %.3f, most for %s, from %.2f to %.2f", s.After, what, s.HelpsBefore, s.HelpsAfter)
	}
	of := fmt.Sprintf("%d mixtures spread over the gamut", len(in.mixtures))
	if len(in.names) > 0 {
		of = fmt.Sprintf("%s for %s", plural(len(in.mixtures), "recipe"), listed(o.targets))
	}
	p.Notes = append(p.Notes, fmt.Sprintf("The expected CIEDE2000 is the mean of %s: %.3f now, %.3f once these chips are read and fitted.", of, plan.Before, p.After))
	return o.put(env, p, v)
}

// interest is what should be known well: recipes for targets, or the gamut.
func (o *planNextOptions) interest(ctx context.Context, b *archive.Bench, resin archive.Resin, stored archive.Calibration, cal *calibrate.Calibration, bench *castplan.Bench) (interest, error) {
	var in interest
	if len(o.targets) == 0 {
		var err error
		in.mixtures, err = castplan.Gamut(cal, bench, o.whites, spread)
		return in, err
	}
	for _, name := range o.targets {
		t, err := b.Target(ctx, o.client, name)
		if err != nil {
			return in, err
		}
		thickness, over := firstKnown(t.ThicknessMM, usualThickness), firstText(t.Backing, "white")
		target, err := recipesTarget(ctx, b, t, cal, thickness, over)
		if err != nil {
			return in, err
		}
		known, err := b.Recipes(ctx, t.Client, t.Name)
		if err != nil {
			return in, err
		}
		known = slices.DeleteFunc(known, func(r archive.Recipe) bool {
			return r.Resin != resin.Code || slices.ContainsFunc(codesOf(r), func(code string) bool { return cal.Index(code) == 0 })
		})
		if len(known) > 0 {
			for _, r := range known[:min(mostRecipes, len(known))] {
				in.add(phrs(r.Loadings), target.Setting, r.ID())
			}
			continue
		}
		limits, err := limitsOf(ctx, b, matchOptions{maxPigments: 4, answers: mostRecipes, grams: 100, scale: 0.01}, resin, stored, cal)
		if err != nil {
			return in, err
		}
		answer, err := recipes.Match(ctx, cal, target, limits)
		if err != nil {
			return in, fmt.Errorf("target %q: %w", t.Name, err)
		}
		for i, r := range answer.Recipes {
			in.add(r.Loadings, target.Setting, fmt.Sprintf("%s, match %d", t.Name, i+1))
		}
	}
	return in, nil
}

func (in *interest) add(mix map[string]calibrate.PHR, s calibrate.Setting, name string) {
	in.mixtures, in.names = append(in.mixtures, castplan.Interest{Loadings: mix, Setting: s}), append(in.names, name)
}

// candidates are the chips to choose from: the usual ones and, for targets, the
// recipes themselves, without what was cast already.
func (o *planNextOptions) candidates(ctx context.Context, b *archive.Bench, cal *calibrate.Calibration, bench *castplan.Bench, in interest, archived []archive.Chip) ([]castplan.Chip, error) {
	all, err := castplan.Candidates(cal, bench, o.whites)
	if err != nil {
		return nil, err
	}
	if len(in.names) > 0 {
		own, err := castplan.ChipsOf(bench, in.mixtures)
		if err != nil {
			return nil, err
		}
		for _, c := range own {
			if !slices.ContainsFunc(all, func(a castplan.Chip) bool { return a.Name == c.Name }) {
				all = append(all, c)
			}
		}
	}
	cast, _, err := evidenceOf(ctx, b, archived)
	return castplan.Uncast(all, cast), err
}
