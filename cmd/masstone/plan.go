package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

func newPlanCommand(env *Env) *cobra.Command {
	return newFamily("plan", "Which chips to cast: start, next, list, show", newPlanStartCommand(env), newPlanNextCommand(env), newPlanListCommand(env), newPlanShowCommand(env))
}

// planFlags are the flags that both plans have: how chips are cast, and where a
// plan goes.
type planFlags struct {
	casting workbench.Casting
	whites  []string
	labels  string
	label   *papers.LabelSize
	paper   paperFlags
}

func (o *planFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	numberVar(f, &o.casting.ChipGrams, "chip-grams", inGrams, 0, "mixed resin in a chip's cup (else as most chips of the resin, else 50 g)")
	scaleVar(f, &o.casting.ScaleGrams, &o.casting.ScaleChoice, ", else as most chips, else 0.01 g")
	numberVar(f, &o.casting.ThicknessMM, "thickness", inMM, 0, "thickness of a chip (else as most chips, else 3 mm)")
	thicknessSDVar(f, &o.casting.ThicknessSDMM, "a chip", "as of most chips, else "+usualMisses)
	f.StringSliceVar(&o.casting.Over, "over", nil, "`BACKINGS` a chip can be read over, the usual one first (else those of the chips, else white,black)")
	f.StringSliceVar(&o.whites, "whites", nil, "`CODES` of the whites, the one to let colours down in first")
	o.addPaper(f)
}

func (o *planFlags) addPaper(f *pflag.FlagSet) {
	f.Var(labelSize{&o.label}, "label", "size of one label of --labels to cut out, such as 25x10 or 40x20 mm (else the usual sheet of labels)")
	f.StringVar(&o.labels, "labels", "", "write labels for the chips to `FILE` too")
	o.paper.add(f, "the plan")
}

const planHelp = `A plan is kept and has a number, such as PL3. Its chips exist as planned: scan the
label of one, or type its name, into "masstone reading add chip", and only the
readings are asked for. Chips of one content and thickness are one cup, read over
each of their backings.

A plan is a list to tick off: what goes into each cup in the order of weighing, in
whole steps of the scale, what it is read over, and room for the readings. Its .csv has a row per chip
with the loadings filled in and the readings left open: fill them in and take it in
with masstone chip import. --labels writes labels with QR codes for the chips.

` + paperHelp

func newPlanStartCommand(env *Env) *cobra.Command {
	var r workbench.PlanStartRequest
	var o planFlags
	cmd := &cobra.Command{
		Use:   "start RESIN",
		Short: "Which chips to cast first, for a shelf without a calibration",
		Long: `Gives the first chips of a new shelf: the bare resin over the lightest and the
darkest backing, every white over both, and two chips per colour (three where chips
are read under one light only): its masstone, a tint in white, thin over black.

Whites are those of --whites, else the pigments whose Colour Index name is that of a
white that hides (PW6) or, without one, whose name says white. No chip holds more of a
paste than its card allows.

--for TARGET is the short way: only the pastes that could make its colour, one chip
each, with the white and the bare resin. They are found by what is known of their
colours, of calibrations in other resins, of chips, of Colour Index names, and no
paste of those that are cast already; or they are those of --pigments. It says how
many castings, chips and pours, are to be expected until a part is within tolerance,
and how many with the whole shelf calibrated. After the fit, "plan next --for"
says which chips pay before the pour, and this command again which further pastes
there are, should those that are cast not make it.

--evidence says what will be read of each chip: lab, labs
(under --under, else D65, A and FL11) or spectra; without it, what the instrument of
this bench gave so far, of chips or else of targets.

` + planHelp + `

  masstone plan start CLR --pigments WH,RD,YE,BL --out chips.csv
  masstone plan start CLR --out plan.pdf --labels labels.pdf
  masstone plan start CLR --for "Harbour lamp / housing" --out plan.pdf

` + jsonKeys(workbench.PlanResult{}),
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Resin, r.Casting, r.Whites = args[0], o.casting, o.whites
			return o.run(cmd.Context(), env, func(b *workbench.Bench) (workbench.PlanResult, error) {
				return workbench.PlanStart(cmd.Context(), b, r)
			})
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&r.Pigments, "pigments", nil, "`CODES` to plan for (else the whole shelf)")
	wholeVar(f, &r.PerColour, "per-colour", 0, "chips per colour, 1 to 4 (else the fewest the readings make do with)")
	numberVar(f, &r.Level, "level", inPHR, 0, "loading of a masstone (else half of what the resin bears, else 2 phr)")
	f.Var(evidenceFlag(&r.Evidence), "evidence", "what will be read of a chip: lab, labs or spectra (else what the bench's instrument gives)")
	f.StringVar(&r.For, "for", "", "`TARGET` that the chips are for: the short way")
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	f.Var(conditions{&r.Under}, "under", "light and observer chips will be read under (may be repeated)")
	o.add(cmd)
	return cmd
}

func newPlanNextCommand(env *Env) *cobra.Command {
	var r workbench.PlanNextRequest
	var o planFlags
	cmd := &cobra.Command{
		Use:   "next RESIN",
		Short: "Which chips to cast next, and what each buys",
		Long: `Ranks the chips worth casting by how much each would lower the expected error
(CIEDE2000) of the mixtures of interest, given what the calibration leaves open:
those of the recipes for --for TARGET, stored ones or else what a match finds, or
without it mixtures spread over the gamut. Each chip is chosen for what it adds to
the ones before it; the figures are what the calibration will claim once they are
read and fitted, for the lots in use. Chips are planned as most of the resin's were
cast and read.

For a target it says how likely the next pour lands within tolerance, now and with
each chip. Without --count it plans only the chips that pay: each must raise that
chance by 5 points; where none does it says to pour now, and keeps nothing.

` + planHelp + `

  masstone plan next CLR --count 3
  masstone plan next CLR --for "Harbour lamp / housing" --out plan.pdf

` + jsonKeys(workbench.PlanResult{}),
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Resin, r.Casting, r.Whites = args[0], o.casting, o.whites
			if r.Count == 0 && cmd.Flags().Changed("count") {
				r.Count = -1 // no chip is no plan
			}
			return o.run(cmd.Context(), env, func(b *workbench.Bench) (workbench.PlanResult, error) {
				return workbench.PlanNext(cmd.Context(), b, r)
			})
		},
	}
	f := cmd.Flags()
	wholeVar(f, &r.Count, "count", 0, "chips to plan (else 3, and for a target no more of them than pay)")
	f.StringArrayVar(&r.For, "for", nil, "`TARGET` whose recipes should be known well (may be repeated)")
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &r.Calibration, "calibration", 0, "version of the calibration (else the newest)")
	o.add(cmd)
	return cmd
}

func newPlanListCommand(env *Env) *cobra.Command {
	var resin string
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List plans, the newest first, with what of them is read",
		Long: `Lists the plans of the bench, the newest first.

` + jsonKeys(workbench.PlanList{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.PlanList, error) { return workbench.Plans(cmd.Context(), b, resin) }, func(v workbench.PlanList) {
				if len(v.Plans) == 0 {
					env.say("no plan yet; masstone plan start RESIN makes the first")
					return
				}
				t := newTable("", "resin", "what", "for", ">cups", ">chips", ">read", "on")
				for _, p := range v.Plans {
					t.add(p.Plan, p.Resin, p.Title, strings.Join(p.For, ", "), fmt.Sprint(p.Cups), fmt.Sprint(p.Chips), fmt.Sprint(p.Read), p.At[:10])
				}
				t.print(env.Stdout)
			})
		},
	}
	cmd.Flags().StringVar(&resin, "resin", "", "in this resin only")
	return cmd
}

func newPlanShowCommand(env *Env) *cobra.Command {
	var o planFlags
	cmd := &cobra.Command{
		Use:   "show PLAN",
		Short: "Show or print a plan again, with which of its chips are read",
		Long: `Shows a plan by its number, such as PL3, or by the code on its paper. A chip that
has a reading is marked; --out and --labels print it again.

` + jsonKeys(workbench.PlanResult{}),
		Args: needs("PLAN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.run(cmd.Context(), env, func(b *workbench.Bench) (workbench.PlanResult, error) {
				return workbench.ShowPlan(cmd.Context(), b, args[0])
			})
		},
	}
	o.addPaper(cmd.Flags())
	return cmd
}

// run makes a plan and puts it where it is wanted.
func (o *planFlags) run(ctx context.Context, env *Env, plan func(*workbench.Bench) (workbench.PlanResult, error)) error {
	if err := o.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := plan(b)
		if err != nil {
			return err
		}
		v.Paper.Heading = o.paper.heading(env)
		return o.put(env, v)
	})
}

// check checks where the plan goes before it is worked out.
func (o *planFlags) check(env *Env) error {
	if err := o.paper.check(env); err != nil || o.labels == "" {
		return err
	}
	if _, err := papers.FormatOf(o.labels); err != nil {
		return misuse{errors.New("--labels " + err.Error())}
	}
	return env.file(o.labels, o.paper.overwrite).Check()
}

func (o *planFlags) put(env *Env, v workbench.PlanResult) error {
	if v.PourNow {
		if env.JSON {
			return env.emit(v)
		}
		for _, note := range v.Notes {
			env.print("%s", tidy(note))
		}
		return nil
	}
	if o.labels != "" {
		labels := papers.Labels{Heading: v.Paper.Heading, Each: o.label, Labels: papers.ChipLabels(v.Paper)}
		if err := o.paper.write(env, o.labels, labels); err != nil {
			return err
		}
	}
	if o.paper.out != "" {
		if err := o.paper.write(env, o.paper.out, v.Paper); err != nil {
			return err
		}
	}
	switch {
	case env.JSON:
		return env.emit(v)
	case o.paper.out == "":
		if err := o.paper.put(env, v.Paper); err != nil {
			return err
		}
	default:
		env.print("plan %s of %s written to %s", v.Plan, figure.Count(len(v.Chips), "chip"), tidy(o.paper.out))
	}
	if o.labels != "" {
		env.print("%s written to %s", figure.Count(len(v.Chips), "label"), tidy(o.labels))
	}
	return nil
}
