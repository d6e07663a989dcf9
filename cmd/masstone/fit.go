package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/workbench"
)

// fitShown is a fit with where its report went.
type fitShown struct {
	workbench.FitResult
	Report []string `json:"report,omitempty" doc:"the files written"`
}

func newFitCommand(env *Env) *cobra.Command {
	r := workbench.FitRequest{Evidence: calibrate.AllEvidence}
	var o fitFlags
	cmd := &cobra.Command{
		Use:   "fit RESIN",
		Short: "Fit how the pigments mix in a resin, from its chips and pours",
		Long: `Fits the optics of a resin and its pigments from all its chips at once, judges
the fit by what it says of each chip when that chip is left out, and stores it as
the resin's next calibration. Earlier ones are kept.

Pours teach: every part of the resin that was read counts as a chip does, by what
was really weighed, how thick it is and what lay under it. Those that cannot are
named: of other lots than the chips, of a pigment that no chip holds, read of a
part that is too small or in another geometry, or not read. A pour that is in a
calibration is not counted on top of it again. One read young (pour read --age)
counts as it is expected to be once settled, as far as "masstone resin drift" knows
that. --without-pours fits the chips alone.

A chip that is wrong in a way no noise explains is named, with the likeliest cause:
a loading off by a factor, two chips swapped, another backing. The record stays as
it is; correct it, or read the chip again.

--from carries the curves over from another resin's calibration: their shape is the
paste's, and only how strong each is (within 15 %), the resin and its surface are
free. Four cups will do: the bare resin, over white and over black, the white, and a
tint of two pastes. Pastes that no chip holds come with wider bars; plan next says
which chip pays.

The layer models are tried in turn (kubelka-munk, and exact: light followed through
the layer in many directions, scattered forward, less so or evenly) and the one by
which the readings are likeliest is taken, the less usual only where clearly
better, unless --layer says which. Where others remain possible, the bars hold
what they say differently; more chips per pigment tell models apart.

The table: dE00 is the CIEDE2000 between the reading and the fit; left out, what
it would be had the chip not been read; sigma, how far that lies outside the bars
claimed for it, as the number of standard deviations of equal rarity. Beside each
layer stands the mean dE00 of its left-out chips.

--evidence takes less than the chips hold, to see what a simpler instrument would
give: lab, the Lab under one light (that of --main); labs, under all lights that
were read, or D65, A and FL11 of the spectra; spectra alone; or all, which is
spectra and, of chips without one, Lab. What was not read comes from the spectrum.

--report draws the fit into a folder, SVG and PNG: K and S of the resin and every
pigment with their 95 % bands, chips measured against fitted, the a*b* map of the
left-out chips, the gamut; and two tables as CSV: the chips, and the curves with
their bands.

--out prints the fit: what was fitted, how far to rely on it, what looks wrong, what
to cast next, the curves, the left-out chips and all chips, on a few pages.
--calibration N shows, draws or prints an earlier one and fits nothing; 0 is the
newest. ` + paperHelp + `

  masstone fit CLR --report report
  masstone fit CLR --calibration 0 --out fit.pdf
  masstone fit CLR --evidence lab --dry-run
  masstone fit NEW --from CLR

` + jsonKeys(fitShown{}),
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Resin = args[0]
			o.stored = cmd.Flags().Changed("calibration")
			return runFit(cmd.Context(), env, r, o)
		},
	}
	f := cmd.Flags()
	f.Var(parsed[string]{&r.Layer, parseLayer, func(s string) string { return s }, "model"}, "layer", "layer model: kubelka-munk or exact (else the better)")
	numberVar(f, &r.Index, "index", anIndex, 0, "refractive index of the resin for the exact layer (as the readings tell)")
	f.Var(conditionFlag(&r.Main), "main", "light and observer of the report, such as D65/10 (else D65/10 if it was read)")
	f.Var(evidenceFlag(&r.Evidence), "evidence", "readings to fit: lab, labs, spectra or all")
	f.StringVar(&r.From, "from", "", "carry the curves over from the newest calibration of `RESIN`")
	f.BoolVar(&r.WithoutPours, "without-pours", false, "fit the chips alone")
	f.StringVar(&o.report, "report", "", "`FOLDER` to draw charts and tables into")
	o.paper.add(f, "the report of the fit")
	wholeVar(f, &o.version, "calibration", 0, "show this version as it was fitted, fit nothing (0: the newest)")
	f.BoolVar(&r.DryRun, "dry-run", false, "show the fit, store nothing")
	return cmd
}

func parseLayer(s string) (string, error) {
	switch strings.ToLower(s) {
	case "kubelka-munk", "km", "kubelkamunk":
		return calibrate.KubelkaMunk, nil
	case "exact":
		return calibrate.ExactLayer, nil
	}
	return "", fmt.Errorf("is no layer model; give %s or %s", calibrate.KubelkaMunk, calibrate.ExactLayer)
}

func evidenceFlag(value *calibrate.Evidence) pflag.Value {
	return parsed[calibrate.Evidence]{value, calibrate.ParseEvidence, func(e calibrate.Evidence) string { return string(e) }, "kind"}
}

func conditionFlag(value *color.Condition) parsed[color.Condition] {
	return parsed[color.Condition]{value, color.ParseCondition, func(c color.Condition) string {
		if c == (color.Condition{}) {
			return ""
		}
		return c.String()
	}, "light/observer"}
}

// conditions is a flag for lights, repeated for each.
type conditions struct{ all *[]color.Condition }

func (c conditions) Type() string   { return "light/observer" }
func (c conditions) String() string { return "" }

func (c conditions) Set(text string) error {
	one, err := color.ParseCondition(text)
	if err == nil {
		*c.all = append(*c.all, one)
	}
	return err
}

// fitFlags say where a fit goes, and whether it is one that is stored.
type fitFlags struct {
	report  string
	paper   paperFlags
	stored  bool
	version int
}

// check says what is wrong with the flags before a fit is made for nothing.
func (o *fitFlags) check(env *Env, r workbench.FitRequest) error {
	switch {
	case o.stored && o.version < 0:
		return misuse{fmt.Errorf("--calibration %d: is no version; give one from 1, or 0 for the newest", o.version)}
	case o.stored && (r.DryRun || r.From != "" || r.WithoutPours || r.Layer != "" || r.Index != 0 || r.Main != (color.Condition{}) || r.Evidence != calibrate.AllEvidence):
		return misuse{errors.New("--calibration shows a fit as it was made; leave out what says how to fit")}
	case r.DryRun && o.paper.out != "":
		return misuse{errors.New("--out prints a calibration that is stored; leave out --dry-run")}
	}
	if err := o.paper.check(env); err != nil || o.report == "" {
		return err
	}
	return env.reportFolder(o.report, o.paper.overwrite)
}

func runFit(ctx context.Context, env *Env, r workbench.FitRequest, o fitFlags) error {
	if err := o.check(env, r); err != nil {
		return err
	}
	var files []string
	if o.report != "" {
		r.Draw = func(name, format string, draw func(io.Writer) error) error {
			file := filepath.Join(o.report, name+"."+format)
			again := slices.Contains(files, file) // the fit is stored in a second try
			if !again {
				files = append(files, file)
			}
			return env.file(file, again || o.paper.overwrite).Write(draw)
		}
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := o.fit(ctx, b, r)
		if err != nil {
			return err
		}
		if o.paper.out != "" {
			report, err := workbench.FitPaper(ctx, b, workbench.FitPaperRequest{Resin: v.Resin, Version: v.Version, Shop: o.paper.maker(env)})
			if err != nil {
				return err
			}
			if err := o.paper.write(env, o.paper.out, report); err != nil {
				return err
			}
		}
		if env.JSON {
			if o.paper.out != "" {
				files = append(files, o.paper.out)
			}
			err = env.emit(fitShown{v, files})
		} else {
			printFit(env, v)
			printFiles(env, o.report, files)
			if o.paper.out != "" {
				env.print("report of %s written to %s", tidy(v.Calibration), tidy(o.paper.out))
			}
		}
		env.remark(v.Remarks)
		return err
	})
}

// fit makes a fit, or shows one that is stored.
func (o *fitFlags) fit(ctx context.Context, b *workbench.Bench, r workbench.FitRequest) (workbench.FitResult, error) {
	if o.stored {
		return workbench.ShowCalibration(ctx, b, workbench.CalibrationRequest{Resin: r.Resin, Version: o.version, Draw: r.Draw})
	}
	return workbench.Fit(ctx, b, r)
}

// reportFolder makes the folder of a report, which is new or empty.
func (e *Env) reportFolder(name string, overwrite bool) error {
	if err := os.MkdirAll(e.path(name), 0o777); err != nil {
		return fmt.Errorf("--report %s: cannot be made (%w); name another folder", name, reason(err))
	}
	entries, err := os.ReadDir(e.path(name))
	holds := slices.ContainsFunc(entries, func(x os.DirEntry) bool { return !strings.HasPrefix(x.Name(), ".") })
	switch {
	case err != nil:
		return fmt.Errorf("--report %s: cannot be read (%w); name another folder", name, reason(err))
	case holds && !overwrite:
		return fmt.Errorf("--report %s: holds files already; name another folder, or add --overwrite", name)
	}
	return nil
}
