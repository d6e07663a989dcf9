package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/cmd/masstone/typed"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/workbench"
)

func newScaleCommand(env *Env) *cobra.Command {
	return newFamily("scale", "Scales: add, list, use", newScaleAddCommand(env), newEquipmentListCommand(env, archive.Scale), newEquipmentUseCommand(env, archive.Scale))
}

func newInstrumentCommand(env *Env) *cobra.Command {
	return newFamily("instrument", "Instruments: add, list, use", newInstrumentAddCommand(env), newEquipmentListCommand(env, archive.Instrument), newEquipmentUseCommand(env, archive.Instrument))
}

func newScaleAddCommand(env *Env) *cobra.Command {
	var r workbench.AddScaleRequest
	cmd := &cobra.Command{
		Use:   "add NAME --step G",
		Short: "Add a scale, or replace its card",
		Long: `Adds a scale by the name it goes by. The one in use, the first unless another is
put in use, gives matches, batches, tints, draws, corrections, plans and chips that
are added one by one their step, and batches the most it carries, where --scale says
nothing else; --scale takes a name too. Files of chips say how those were weighed, or
--scale with a step does. A scale that repeats worse than its step shows has a larger
least line. The same card twice changes nothing; another one of the same name needs
--replace, and the old one is kept.

  masstone scale add bench --step 0.01g --max 500g --sd 0.004g

` + jsonKeys(workbench.EquipmentOutcome{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name = args[0]
			return runEquipment(cmd.Context(), env, func(b *workbench.Bench) (workbench.EquipmentOutcome, error) {
				return workbench.AddScale(cmd.Context(), b, r)
			})
		},
	}
	f := cmd.Flags()
	numberVar(f, &r.StepGrams, "step", inGrams, 0, "smallest change it shows, such as 0.01g")
	numberVar(f, &r.MaxGrams, "max", inGrams, 0, "most it carries")
	numberVar(f, &r.SDGrams, "sd", inGrams, 0, "standard deviation of one weighing, of the same mass put on ten times")
	f.BoolVar(&r.Use, "use", false, "it is in use from now on")
	f.StringVar(&r.Note, "note", "", "remark kept with the card")
	f.BoolVar(&r.Replace, "replace", false, "replace the card of this name")
	return cmd
}

func newInstrumentAddCommand(env *Env) *cobra.Command {
	var r workbench.AddInstrumentRequest
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "add NAME",
		Short: "Add an instrument, or replace its card",
		Long: `Adds an instrument by the name it goes by: how it reads, through what aperture and
under which light its Lab stands. The one in use, the first unless another is put in
use, says that of readings that are typed, where nothing else is said; --instrument
names another. What a file states of its readings stands.

  masstone instrument add sphere --geometry d/8 --specular included --aperture-mm 8 --illuminant D65 --observer 10 --repeatability 0.04

` + jsonKeys(workbench.EquipmentOutcome{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name, r.Measurement, r.MCondition = args[0], reading.said(), strings.ToUpper(reading.mode)
			r.Condition = color.Condition{Illuminant: reading.illuminant, Observer: reading.observer}
			return runEquipment(cmd.Context(), env, func(b *workbench.Bench) (workbench.EquipmentOutcome, error) {
				return workbench.AddInstrument(cmd.Context(), b, r)
			})
		},
	}
	f := cmd.Flags()
	reading.addConditions(f)
	f.Lookup("m-condition").Usage = "measurement condition of ISO 13655 that its lamp keeps, M0 to M3"
	numberVar(f, &r.ApertureMM, "aperture-mm", inMM, 0, "aperture, its diameter")
	numberVar(f, &r.RepeatSD, "repeatability", inDE, 0, "standard deviation of one reading in each of L*, a*, b*, of one spot read ten times")
	f.BoolVar(&r.Use, "use", false, "it is in use from now on")
	f.StringVar(&r.Note, "note", "", "remark kept with the card")
	f.BoolVar(&r.Replace, "replace", false, "replace the card of this name")
	return cmd
}

func newEquipmentListCommand(env *Env, item string) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the " + item + "s",
		Long:  "Lists the " + item + "s, the one in use first.\n\n" + jsonKeys(workbench.EquipmentList{}),
		Args:  needs(),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.EquipmentList, error) {
				return workbench.AllEquipment(cmd.Context(), b, item)
			}, func(v workbench.EquipmentList) { printEquipment(env, item, v.Equipment) })
		},
	}
}

func newEquipmentUseCommand(env *Env, item string) *cobra.Command {
	return &cobra.Command{
		Use:   "use NAME",
		Short: "Say which " + item + " is in use",
		Long:  "Says which " + item + " is in use from now on, where nothing else is said.\n\n" + jsonKeys(workbench.EquipmentOutcome{}),
		Args:  needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runEquipment(cmd.Context(), env, func(b *workbench.Bench) (workbench.EquipmentOutcome, error) {
				return workbench.UseEquipment(cmd.Context(), b, item, args[0])
			})
		},
	}
}

func runEquipment(ctx context.Context, env *Env, do func(*workbench.Bench) (workbench.EquipmentOutcome, error)) error {
	return tell(ctx, env, do, func(v workbench.EquipmentOutcome) {
		use := ""
		if v.InUse {
			use = ", in use"
		}
		env.print("%s %s %s: %s%s", v.Item, tidy(v.Name), v.Outcome, v.Equipment.Text(), use)
	})
}

func printEquipment(env *Env, item string, all []workbench.Equipment) {
	if len(all) == 0 {
		env.say("no %s yet; masstone %s add NAME", item, item)
		return
	}
	t := newTable(item, "", "in use", "note")
	for _, e := range all {
		use := ""
		if e.InUse {
			use = "yes"
		}
		t.add(e.Name, e.Text(), use, e.Note)
	}
	t.print(env.Stdout)
}

// scaleVar adds the flag --scale: a step, or a scale by its name.
func scaleVar[V ~float64](f *pflag.FlagSet, step *V, choice *workbench.ScaleChoice, otherwise string) {
	f.Var(scaleFlag[V]{number[V]{inGrams, step}, choice}, "scale", "`STEP` of the scale, such as 0.01g, or its name (else the one in use"+otherwise+")")
}

type scaleFlag[V ~float64] struct {
	number[V]
	choice *workbench.ScaleChoice
}

func (s scaleFlag[V]) Set(text string) error {
	name, grams, err := typed.Scale(text)
	if err == nil {
		s.choice.Scale, *s.value = name, V(grams)
	}
	return err
}
