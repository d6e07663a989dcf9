package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

type lotLearnOptions struct {
	code, lot, file, resin string
	chipGrams, scale       float64
	reading                readingFlags
}

func newLotLearnCommand(env *Env) *cobra.Command {
	var o lotLearnOptions
	cmd := &cobra.Command{
		Use:   "learn CODE LOT FILE --resin CODE",
		Short: "Learn a pigment lot's strength from a few chips of it",
		Long: `Learns how strong a lot of a pigment is against the lot that was calibrated, from
a few chips of it: one in white is enough. The file has the columns of "masstone
chip import". The chips are kept with their readings, but not fitted: the
calibration stays as it is.

  masstone lot learn RD L123 newred.csv --resin CLR --chip-grams 50 --scale 0.01

JSON keys: resin, calibration, ` + strengthKeys + `,
chips (a list of chip, dE00_before, dE00_after: from the reading to the prediction
under the main light).`,
		Args: needs("CODE", "LOT", "FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.code, o.lot, o.file = args[0], args[1], args[2]
			return runLotLearn(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.resin, "resin", "", "`CODE` of the resin the chips were cast in")
	numberVar(f, &o.chipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of each chip, such as 50g")
	numberVar(f, &o.scale, "scale", inGrams, 0, "step of the scale the chips were weighed on, such as 0.01g")
	f.BoolVar(&o.reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	o.reading.addPiece(f, "", 0)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

// learntChipView is a chip of a lot in JSON.
type learntChipView struct {
	Chip   string `json:"chip"`
	Before fig    `json:"dE00_before"`
	After  fig    `json:"dE00_after"`
}

func runLotLearn(ctx context.Context, env *Env, o lotLearnOptions) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		l, err := lotNamed(ctx, b, o.code, o.lot)
		if err != nil {
			return err
		}
		if l.Item != archive.OfPigment {
			return misusef("lot learn: %s is a resin; only pigments have a strength to learn", o.code)
		}
		resin, err := resinAt(ctx, b, o.resin)
		if err != nil {
			return err
		}
		stored, cal, err := calibrationOn(ctx, b, resin.Code, 0)
		if err != nil {
			return err
		}
		if cal.Index(o.code) == 0 {
			return notFitted(o.code, stored)
		}
		archived, err := lotChips(ctx, env, b, o, resin)
		if err != nil {
			return err
		}
		belief, earlier, err := lotBelief(ctx, b, o, stored, cal, archived)
		if err != nil {
			return err
		}
		chips, _, err := evidenceOf(ctx, b, archived)
		if err != nil {
			return err
		}
		for _, c := range archived {
			if err := checkFitted(ctx, b, stored, cal, c.Loadings); err != nil {
				return err
			}
		}
		before, err := cal.WithLots(belief)
		if err != nil {
			return err
		}
		_, learned, err := before.Learn(chips, calibrate.LearnOptions{})
		if err != nil {
			return err
		}
		s := learned.Strengths[o.code]
		s.Ln += belief[o.code].Ln
		if err := b.Together(ctx, func(b *archive.Bench) error {
			return keepLotChips(ctx, b, o, stored, archived, earlier, s)
		}); err != nil {
			return err
		}
		return tellLearnt(env, o, stored, s, learned)
	})
}

// lotChips reads the chips of a lot.
func lotChips(ctx context.Context, env *Env, b *archive.Bench, o lotLearnOptions, resin archive.Resin) ([]archive.Chip, error) {
	pigments, err := pigmentCodes(ctx, b)
	if err != nil {
		return nil, err
	}
	options, err := o.reading.options(o.file, pigments)
	if err != nil {
		return nil, err
	}
	t, err := readTable(env, o.file, options, readings.Chips)
	if err != nil {
		return nil, err
	}
	pieces, err := readings.Pieces(options.File, t.Rows)
	if err != nil {
		return nil, err
	}
	var chips []archive.Chip
	for _, p := range pieces {
		if p.Loadings[o.code] <= 0 {
			return nil, fmt.Errorf("%s: chip %q holds no %s; leave it out of the file", options.File, p.Name, o.code)
		}
		for _, w := range p.Warnings {
			env.say("warning: %s", w.Error())
		}
		chips = append(chips, archive.Chip{Resin: resin.Code, Name: fmt.Sprintf("%s lot %s: %s", o.code, o.lot, p.Name), Loadings: p.Loadings, Backing: p.Backing, ThicknessMM: p.ThicknessMM,
			ChipGrams: firstKnown(p.ChipGrams, o.chipGrams), ScaleGrams: firstKnown(p.ScaleGrams, o.scale), Lots: []archive.LotName{pigmentLot(o.code, o.lot)},
			Readings: readingsOf(p.Readings), Note: p.Note, Withdrawn: "shows a lot, not the calibrated pigment"})
	}
	return chips, nil
}

// lotBelief is what is believed of the lots in the chips before they are
// looked at: of this one what pours or other chips have shown, with that
// evidence, or nothing; of the others what is known of those in use.
func lotBelief(ctx context.Context, b *archive.Bench, o lotLearnOptions, stored archive.Calibration, cal *calibrate.Calibration, chips []archive.Chip) (known map[string]calibrate.Strength, earlier []string, err error) {
	own := pigmentLot(o.code, o.lot)
	lots, err := lotsInUse(ctx, b, stored.Resin, cal.Codes())
	if err != nil {
		return nil, nil, err
	}
	lots = append(slices.DeleteFunc(lots, func(l archive.LotName) bool { return l.Item == own.Item && l.Code == own.Code }), own)
	var same []string // chips that were learnt before
	for _, c := range chips {
		if k, err := b.Chip(ctx, c.Resin, c.Name); err == nil {
			same = append(same, k.Ref)
		}
	}
	if known, _, err = strengthsOf(ctx, b, lots, stored, same); err != nil {
		return nil, nil, err
	}
	known = fitted(cal, known)
	if _, some := known[o.code]; !some {
		known[o.code] = calibrate.Strength{SD: cal.UsualDrift()[o.code]}
		return known, nil, nil
	}
	all, err := b.LotStrengths(ctx)
	for _, s := range all {
		if s.Item == own.Item && s.Code == own.Code && s.Lot == own.Name {
			earlier = s.Evidence
		}
	}
	return known, earlier, err
}

// keepLotChips keeps the chips, and what they taught.
func keepLotChips(ctx context.Context, b *archive.Bench, o lotLearnOptions, stored archive.Calibration, chips []archive.Chip, evidence []string, s calibrate.Strength) error {
	if _, err := b.ImportChips(ctx, stored.Resin, chips, archive.Refuse); err != nil {
		return advise(err, "give the chips other names")
	}
	for _, c := range chips {
		kept, err := b.Chip(ctx, stored.Resin, c.Name)
		if err != nil {
			return err
		}
		evidence = append(evidence, kept.Ref)
	}
	_, err := b.SetLotStrength(ctx, archive.LotStrength{Item: archive.OfPigment, Code: o.code, Lot: o.lot, LnStrength: s.Ln, SD: s.SD, Calibration: stored.Ref, Evidence: evidence})
	return err
}

func tellLearnt(env *Env, o lotLearnOptions, stored archive.Calibration, s calibrate.Strength, learned calibrate.Learned) error {
	var views []learntChipView
	t := newTable("chip", ">dE00 as calibrated", ">dE00 as learnt")
	for _, c := range learned.Chips {
		before, err := c.Measured.DeltaE00(c.Before)
		if err != nil {
			return err
		}
		after, err := c.Measured.DeltaE00(c.After)
		if err != nil {
			return err
		}
		views = append(views, learntChipView{c.Chip, fig(before), fig(after)})
		t.add(c.Chip, fmt.Sprintf("%.2f", before), fmt.Sprintf("%.2f", after))
	}
	if env.JSON {
		return env.emit(struct {
			Resin       string `json:"resin"`
			Calibration string `json:"calibration"`
			strengthView
			Chips []learntChipView `json:"chips"`
		}{stored.Resin, stored.Name(), viewStrength(o.code, o.lot, s), views})
	}
	env.print("lot %s of %s against the one calibrated in %s: %s", tidy(o.lot), o.code, stored.Name(), strengthText(s))
	t.print(env.Stdout)
	return nil
}
