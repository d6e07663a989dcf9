package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newMouldCommand(env *Env) *cobra.Command {
	return newFamily("mould", "Moulds: add, list, show, retire, weigh", newMouldAddCommand(env), newMouldListCommand(env), newMouldShowCommand(env), newMouldRetireCommand(env), newMouldWeighCommand(env))
}

func newMouldAddCommand(env *Env) *cobra.Command {
	var r workbench.AddMouldRequest
	cmd := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a mould, or replace its card",
		Long: `Adds a mould by the name written on it: of what, of which silicone and lot, made
when, how many shots it had and how many are expected of it. Cups of a run that name
it are counted as shots. The same card twice changes nothing; another one of the
same name needs --replace, and the old one is kept.

  masstone mould add M1 --client "Tern Lighting" --part "Harbour lamp" --cavities 3 --cure platinum --silicone-lot S-8 --life 40

` + jsonKeys(workbench.MouldOutcome{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name = args[0]
			return tellMould(cmd, env, func(b *workbench.Bench) (workbench.MouldOutcome, error) {
				return workbench.AddMould(cmd.Context(), b, r)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client whose part it casts")
	f.StringVar(&r.Part, "part", "", "the part")
	wholeVar(f, &r.Cavities, "cavities", 1, "parts cast at a time")
	numberVar(f, &r.CavityML, "cavity-ml", inML, 0, "volume of a cavity in ml")
	thicknessSDVar(f, &r.ThicknessSDMM, "parts cast in it", "as their target says, or as is usual")
	f.StringVar(&r.Silicone, "silicone", "", "the silicone, as its label names it")
	f.StringVar(&r.Cure, "cure", "", "how it cures, `platinum|tin`")
	numberVar(f, &r.SiliconeGrams, "silicone-g", inGrams, 0, "silicone in it, such as 410g")
	f.StringVar(&r.SiliconeLot, "silicone-lot", "", "its lot")
	f.StringVar(&r.Release, "release", "", "release agent used on it, or none")
	dayVar(f, &r.MadeOn, "made", "day it was made, 2026-03-31")
	wholeVar(f, &r.ShotsBefore, "shots-before", 0, "shots it had before this bench counts them")
	wholeVar(f, &r.Life, "life", 0, "shots expected of it")
	f.StringVar(&r.Note, "note", "", "remark kept with the card")
	f.BoolVar(&r.Replace, "replace", false, "replace the card of this name")
	return cmd
}

func newMouldRetireCommand(env *Env) *cobra.Command {
	var r workbench.RetireMouldRequest
	cmd := &cobra.Command{
		Use:   "retire NAME --why TEXT",
		Short: "Say that a mould is used no more",
		Long:  "Says why a mould is used no more. Its card and its shots stay.\n\n" + jsonKeys(workbench.MouldOutcome{}),
		Args:  needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name = args[0]
			return tellMould(cmd, env, func(b *workbench.Bench) (workbench.MouldOutcome, error) {
				return workbench.RetireMould(cmd.Context(), b, r)
			})
		},
	}
	cmd.Flags().StringVar(&r.Why, "why", "", "why, such as torn")
	return cmd
}

func tellMould(cmd *cobra.Command, env *Env, ask func(*workbench.Bench) (workbench.MouldOutcome, error)) error {
	return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
		v, err := ask(b)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("mould %s %s: %s", tidy(v.Name), v.Outcome, mouldText(v.Mould))
		printMouldCautions(env, v.Cautions)
		return nil
	})
}

// mouldText is a mould in a line.
func mouldText(m workbench.Mould) string {
	text := figure.Count(m.Cavities, "cavity")
	if m.Cavities != 1 {
		text = fmt.Sprintf("%d cavities", m.Cavities)
	}
	if m.CavityML != nil {
		text += fmt.Sprintf(" of %s ml", figure.Short(float64(*m.CavityML)))
	}
	text += ", " + figure.Count(m.Shots, "shot")
	if m.Life > 0 {
		text += fmt.Sprintf(" of %d", m.Life)
	}
	if m.Retired != "" {
		text += ", retired: " + tidy(m.Retired)
	}
	return text
}

func printMouldCautions(env *Env, all []string) {
	for _, c := range all {
		env.print("Caution: %s", c)
	}
}

func newMouldListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the moulds",
		Long:  "Lists the moulds with their shots.\n\n" + jsonKeys(workbench.MouldList{}),
		Args:  needs(),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.MouldList, error) { return workbench.Moulds(cmd.Context(), b) }, func(v workbench.MouldList) {
				if len(v.Moulds) == 0 {
					env.say("no mould yet; masstone mould add NAME")
					return
				}
				t := newTable("mould", "client", "part", ">cavities", ">ml", "silicone", "cure", "lot", "made", ">shots", ">of", "retired")
				for _, m := range v.Moulds {
					life := "-"
					if m.Life > 0 {
						life = fmt.Sprint(m.Life)
					}
					t.add(m.Name, m.Client, m.Part, fmt.Sprint(m.Cavities), shown(m.CavityML), m.Silicone, m.Cure, m.Lot, m.MadeOn, fmt.Sprint(m.Shots), life, m.Retired)
				}
				t.print(env.Stdout)
			})
		},
	}
}

func newMouldShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show NAME",
		Short: "Show a mould, and what was cast in it",
		Long:  "Shows a mould and the cups of runs that were cast in it.\n\nJSON keys: those of \"mould list\" for one mould, and cups (a list of run, pour,\npoured_on, parts, shots).",
		Args:  needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.ShownMould, error) {
				return workbench.ShowMould(cmd.Context(), b, args[0])
			}, func(v workbench.ShownMould) {
				env.print("mould %s: %s", tidy(v.Name), mouldText(v.Mould))
				for _, line := range [][2]string{{"of", v.Part}, {"client", v.Client}, {"silicone", v.Silicone}, {"cures by", v.Cure}, {"its lot", v.Lot}, {"made on", v.MadeOn}, {"release", v.Release}, {"note", v.Note}} {
					if line[1] != "" {
						env.print("%s: %s", line[0], tidy(line[1]))
					}
				}
				if v.Grams != nil {
					env.print("silicone in it: %s g", figure.Short(float64(*v.Grams)))
				}
				printMouldCautions(env, v.Cautions)
				if len(v.Cups) > 0 {
					t := newTable("run", "pour", "on", ">parts", ">shots")
					for _, k := range v.Cups {
						t.add(k.Run, k.Pour, k.On, fmt.Sprint(k.Parts), fmt.Sprint(k.Shots))
					}
					t.print(env.Stdout)
				}
			})
		},
	}
}

func newMouldWeighCommand(env *Env) *cobra.Command {
	var r workbench.WeighMouldRequest
	cmd := &cobra.Command{
		Use:   "weigh --box-ml V --mix A:B --density D",
		Short: "Weigh out the silicone of a new mould",
		Long: `Says how much silicone a new mould takes: the box to where it is filled, less the
original in it, by mass and by side; and how large a container it is degassed in, 4
to 5 times its volume (common practice, no source). Nothing is kept.

  masstone mould weigh --box-ml 400 --part-ml 18.5 --mix 100:10 --density 1.1 --waste 5%

` + jsonKeys(workbench.MouldWeighing{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error {
			v, err := workbench.WeighMould(r)
			if err != nil {
				return err
			}
			if env.JSON {
				return env.emit(v)
			}
			env.print("weigh %s of silicone, %s of A and %s of B, for %s of mould", v.Total, v.A, v.B, v.Silicone)
			env.print("degas it in a container of %.0f to %.0f ml, 4 to 5 times its volume (common practice, no source)", v.ContainerLow.Millilitres(), v.ContainerHigh.Millilitres())
			printMouldCautions(env, v.Cautions)
			return nil
		},
	}
	f := cmd.Flags()
	numberVar(f, &r.BoxML, "box-ml", inML, 0, "volume of the box to where it is filled, length x width x height in cm")
	numberVar(f, &r.PartML, "part-ml", inML, 0, "volume of the original in it, in ml")
	f.Var(ratioFlag(&r.Mix), "mix", "mix ratio A:B of the silicone by mass, such as 100:10")
	numberVar(f, &r.GramsPerML, "density", perML, 0, "density of the mixed silicone in g/ml")
	f.Var(wasteFlag(&r.Waste), "waste", "what stays in the container, such as 5%")
	return cmd
}
