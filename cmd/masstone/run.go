package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/runchart"
	"masstone/recipes/workbench"
)

func newRunCommand(env *Env) *cobra.Command {
	return newFamily("run", "Runs: start, plan, sheet, pour, show, list, certificate", newRunStartCommand(env), newRunPlanCommand(env), newRunSheetCommand(env), newRunPourCommand(env), newRunShowCommand(env), newRunListCommand(env), newRunCertificateCommand(env))
}

func newRunStartCommand(env *Env) *cobra.Command {
	var r workbench.StartRunRequest
	cmd := &cobra.Command{
		Use:   "start APPROVAL --parts N",
		Short: "Begin a run of parts after an approval",
		Long: `Begins a run: parts of one order, cast cup by cup after an approval ("Harbour lamp /
housing v2", or a target for its newest). Every cup is then a "masstone run pour",
and "masstone pour read" takes readings of some of its parts.

A part counts as within only where the chance that it is not, the noise of the
readings counted, is at most --risk (guarded acceptance, JCGM 106:2012).

  masstone run start "Harbour lamp / housing" --parts 30

` + jsonKeys(workbench.Run{}),
		Args: needs("APPROVAL"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Approval = args[0]
			return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
				v, err := onceMore(cmd.Context(), env, &r.Again, func() (workbench.Run, error) { return workbench.StartRun(cmd.Context(), b, r) })
				if err != nil {
					return err
				}
				env.remark(v.Remarks)
				if env.JSON {
					return env.emit(v)
				}
				printRun(env, v)
				env.say("for every cup: masstone run pour %s BATCH --parts N", v.Run)
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &r.Parts, "parts", 0, "how many parts are wanted")
	numberVar(f, &r.Risk, "risk", aShare, 0, "largest chance of being wrong about a part that is called within, such as 5% (5 %)")
	dayVar(f, &r.On, "date", "day it began, 2026-03-31 (else today)")
	f.StringVar(&r.Note, "note", "", "remark kept with the run")
	againVar(f, &r.Again)
	return cmd
}

func newRunPourCommand(env *Env) *cobra.Command {
	var r workbench.RunPourRequest
	var room, mould float64
	cmd := &cobra.Command{
		Use:   "pour RUN BATCH [--parts N] [--mould NAME]",
		Short: "Record a cup of a run",
		Long: `Records a pour as the next cup of a run, as "masstone pour add" does, with how many
parts were cast of it, by whom and in which mould. The cups of a sheet with several
come out of one pot, weighed once: what --weighed says of its lines with the first
cup counts for all of them, and its pre-dilutions leave their jars once. The side
that is weighed into each cup is the cup's own. Other lines, or more cups than the
sheet has, are of a pot that was weighed anew.

  masstone run pour RUN1 B4 --parts 3 --mould M1 --room 21C --mould-temp 30C
  masstone pour read P7 --part 2 --lab 64.8,-10.9,-2.1

` + jsonKeys(workbench.RunCup{}),
		Args: needs("RUN", "BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Run, r.Batch = args[0], args[1]
			if cmd.Flags().Changed("room") {
				r.RoomC = &room
			}
			if cmd.Flags().Changed("mould-temp") {
				r.MouldC = &mould
			}
			return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
				v, err := onceMore(cmd.Context(), env, &r.Again, func() (workbench.RunCup, error) { return workbench.PourRun(cmd.Context(), b, r) })
				if err != nil {
					return err
				}
				env.remark(v.Remarks)
				if env.JSON {
					return env.emit(v)
				}
				text := fmt.Sprintf("cup %d of %s is %s of batch %s, %s, on %s", v.Cup, strings.ToUpper(r.Run), v.Pour, r.Batch, figure.Count(v.Parts, "part"), v.On)
				if v.Mould != "" {
					text += ", mould " + tidy(v.Mould)
				}
				env.print("%s", text)
				printJars(env, v.Jars, v.ScaleGrams)
				printCaution(env)
				env.say("when it has cured: masstone pour read %s --lab L,a,b", v.Pour)
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.BoolVar(&r.AsSheet, "as-sheet", false, "every line was weighed as the sheet says")
	f.Var(&weighedFlag{value: &r.Weighed}, "weighed", "what the scale showed for a line, `ITEM=GRAMS` (may be repeated)")
	f.Var(lotsFlag{&r.Lots}, "lot", "lot used of a pigment or the resin, `CODE=LOT` (may be repeated; else the batch's)")
	dayVar(f, &r.On, "date", "day it was poured, 2026-03-31 (else today)")
	numberVar(f, &room, "room", inCelsius, 0, "room temperature in `°C`, such as 21C")
	wholeVar(f, &r.Parts, "parts", 1, "parts cast of the cup")
	f.StringVar(&r.Mould, "mould", "", "`NAME` of the mould")
	numberVar(f, &mould, "mould-temp", inMouldCelsius, 0, "temperature of the mould in `°C`, such as 30C")
	f.StringVar(&r.By, "by", "", "who poured (else who is at the bench)")
	f.StringVar(&r.AddPourRequest.Note, "note", "", "remark kept with the pour")
	againVar(f, &r.Again)
	return cmd
}

func newRunShowCommand(env *Env) *cobra.Command {
	var chart string
	var over bool
	cmd := &cobra.Command{
		Use:   "show RUN [--chart FILE]",
		Short: "Show a run: cups, control charts, drift, parts to pull",
		Long: `Shows a run cup by cup, with control charts of dE00 and of dL*, da*, db* against the
target and against the run's own mean: limits of single values (ISO 7870-2) and
cumulative sums (ISO 7870-4), which see a small shift that stays. dE00 is never
below 0 and skewed, so it has an upper limit only. Where the run drifts it says
since when, and which change of loadings would answer it; --chart draws it.

  masstone run show RUN1 --chart run.pdf

` + jsonKeys(workbench.Run{}),
		Args: needs("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRunShow(cmd.Context(), env, args[0], chart, over)
		},
	}
	cmd.Flags().StringVar(&chart, "chart", "", "draw the charts to `FILE`: .svg or .pdf")
	cmd.Flags().BoolVar(&over, "overwrite", false, "write over a file that is there already")
	return cmd
}

func runRunShow(ctx context.Context, env *Env, id, chart string, over bool) error {
	format := strings.TrimPrefix(strings.ToLower(filepath.Ext(chart)), ".")
	if chart != "" {
		if format != runchart.SVG && format != runchart.PDF {
			return misusef("--chart %q: its ending says how it is drawn: use .svg or .pdf", chart)
		}
		if err := env.file(chart, over).Check(); err != nil {
			return err
		}
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.ShowRun(ctx, b, id)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if chart != "" {
			title, charts := v.Drawn()
			out := env.file(chart, over)
			out.Owner = true
			if err := out.Write(func(w io.Writer) error { return runchart.Write(w, format, title, charts) }); err != nil {
				return err
			}
			env.say("charts drawn to %s", chart)
		}
		if env.JSON {
			return env.emit(v)
		}
		printRun(env, v)
		return nil
	})
}

func newRunListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List runs, the newest first",
		Long:  "Lists runs, the newest first.\n\n" + jsonKeys(workbench.RunList{}),
		Args:  needs(),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.RunList, error) { return workbench.Runs(cmd.Context(), b) }, func(v workbench.RunList) {
				if len(v.Runs) == 0 {
					env.say("no run yet; begin one with masstone run start APPROVAL --parts N")
					return
				}
				t := newTable("run", "target", "client", ">parts", ">cast", ">cups", ">read", ">within", "started", "drift")
				for _, r := range v.Runs {
					t.add(r.Run, r.Target, r.Client, fmt.Sprint(r.Parts), fmt.Sprint(r.Cast), fmt.Sprint(r.Cups), fmt.Sprint(r.Read), fmt.Sprint(r.Within), r.StartedOn, r.Drift)
				}
				t.print(env.Stdout)
			})
		},
	}
}

func newRunCertificateCommand(env *Env) *cobra.Command {
	var r workbench.RunCertificateRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "certificate RUN",
		Short: "Certify a run to the client, as a whole",
		Long: `Writes the one certificate of a run: how many parts were read, their mean, spread
and worst, and the share within tolerance with its 95 % interval (Clopper and
Pearson). A part counts as within where the chance of error is at most the run's
risk (JCGM 106:2012).

` + paperHelp + `

  masstone run certificate RUN1 --out certificate.pdf --shop "Tern Castings"

JSON keys: made, shop, certificate (number), run, client, target, approval, recipe,
resin, lots (of, lot), moulds, under, formula, agreed (what the client accepts),
parts (wanted), cast, cups, cups_read, parts_read, passing_as_read, decided_within,
decided_outside, cups_within, share_low, share_high (95 % interval of the share of
cups within), risk, reading_u, guard_band (in the formula; where per_axis, as shares of the limit), mean_dE00, sd_dE00, worst_dE00, worst_part,
mean_shift (L*, a*, b*, parts less target), drift, poured_on, read (a list of part,
mould, dE00, dL, da, db, chance, decision), head (of the log), notes.`,
		Args: needs("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Run = args[0]
			if err := paper.check(env); err != nil {
				return err
			}
			r.Shop = paper.maker(env)
			return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
				v, err := workbench.RunCertificate(cmd.Context(), b, r)
				if err != nil {
					return err
				}
				return paper.show(env, fmt.Sprintf("certificate of %s for %q%s", v.Run, v.Target, forClient(v.Client)), v)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Number, "number", "", "number of the certificate (else that of the run)")
	f.StringArrayVar(&r.Notes, "note", nil, "remark (may be repeated)")
	paper.add(f, "the certificate")
	return cmd
}

func printRun(env *Env, v workbench.Run) {
	env.print("run %s of %q%s, %d of %d parts cast, begun %s, recipe %s", v.Run, tidy(v.Approval), forClient(v.Client), v.Cast, v.Parts, v.StartedOn, v.Recipe)
	if v.Note != "" {
		env.print("note: %s", tidy(v.Note))
	}
	if len(v.Cups) == 0 {
		return
	}
	t := newTable(">cup", "pour", "on", "by", "mould", ">parts", "read", ">dE00", ">dL*", ">da*", ">db*", ">chance", "decision")
	for _, c := range v.Cups {
		head := []string{fmt.Sprint(c.Cup), c.Pour, c.On, c.By, c.Mould, fmt.Sprint(c.Parts)}
		if len(c.Read) == 0 {
			t.add(append(head, "", "", "", "", "", "", "")...)
		}
		for i, p := range c.Read {
			if i > 0 {
				head = []string{"", "", "", "", "", ""}
			}
			part := "part"
			if p.Part > 0 {
				part = fmt.Sprintf("part %d", p.Part)
			}
			t.add(append(head, part, fmt.Sprintf("%.2f", p.DE00), fmt.Sprintf("%+.2f", p.DL), fmt.Sprintf("%+.2f", p.DA), fmt.Sprintf("%+.2f", p.DB), fmt.Sprintf("%.0f %%", 100*p.Chance), p.Decision)...)
		}
	}
	t.print(env.Stdout)
	printRunCharts(env, v)
}

func printRunCharts(env *Env, v workbench.Run) {
	if s := v.Summary; s != nil {
		env.print("%s read: dE00 %.2f on average, sd %.2f, worst %.2f (%s); %d within at a risk of %s %%, %d outside", figure.Count(s.Read, "part"), s.Mean, s.SD, s.Worst, s.WorstPart, s.Within, figure.Short(100*v.Risk), s.Outside)
		env.print("cups within: %d of %d read; of all %.0f to %.0f %% (95 %%)", s.CupsWithin, s.CupsRead, 100*s.Low, 100*s.High)
	}
	if len(v.Charts) == 0 {
		return
	}
	t := newTable("chart", ">mean", ">lower", ">upper", "beyond", "sum about own mean", "sum about target")
	for _, c := range v.Charts {
		cells := []string{c.Named(), fmt.Sprintf("%.2f", c.Mean), limitText(c.Lower), limitText(c.Upper), cupsText(c.Outside), "", ""}
		for i, s := range []*workbench.RunCusum{c.OwnMean, c.Target} {
			if s != nil {
				cells[5+i] = signalText(s.Signals)
			}
		}
		t.add(cells...)
	}
	t.print(env.Stdout)
	if v.Drift != "" {
		env.print("%s", v.Drift)
	}
	if a := v.Answer; a != nil {
		env.print("to bring it back: %s phr; that answers %+.2f L*, %+.2f a*, %+.2f b* and leaves %.2f of it", figure.Loadings(a.To), a.Shift.L, a.Shift.A, a.Shift.B, a.LeftDE)
	}
	if len(v.Pull) > 0 {
		var names []string
		for _, p := range v.Pull {
			name := p.Pour
			if p.Part > 0 {
				name += fmt.Sprintf(" part %d", p.Part)
			}
			names = append(names, name+" ("+p.Decision+")")
		}
		env.print("to pull: %s", figure.List(names))
	}
	if len(v.ReadNext) > 0 {
		env.print("cast since the drift began and not all read: %s", figure.List(v.ReadNext))
	}
}

func limitText(n *figure.Number) string {
	if n == nil {
		return ""
	}
	return fmt.Sprintf("%.2f", *n)
}

func cupsText(cups []int) string {
	var all []string
	for _, c := range cups {
		all = append(all, fmt.Sprint(c))
	}
	return figure.List(all)
}

// signalText says where sums signal: up at cup 9 since cup 6.
func signalText(signals []workbench.RunSignal) string {
	var all []string
	for _, s := range signals {
		all = append(all, fmt.Sprintf("%s at cup %d since cup %d", map[bool]string{true: "up", false: "down"}[s.Up], s.Seen, s.From))
	}
	return figure.List(all)
}
