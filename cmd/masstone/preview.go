package main

import (
	"context"

	"masstone/color/readings"
	"masstone/recipes/archive"
)

// castPieces are the chips of an import: of one file, or of what was poured and
// an instrument file joined by name.
func castPieces(env *Env, o chipImportOptions, options readings.Options) ([]readings.Piece, error) {
	if o.readings == "" {
		t, err := readTable(env, o.file, options, readings.Chips)
		if err != nil {
			return nil, err
		}
		return readings.Pieces(options.File, t.Rows)
	}
	if o.file == "-" && o.readings == "-" {
		return nil, misusef("chip import: standard input holds one file; name the other")
	}
	poured, err := readTable(env, o.file, options, readings.Mixtures)
	if err != nil {
		return nil, err
	}
	options.File = title(o.readings)
	read, err := readTable(env, o.readings, options, readings.Samples)
	if err != nil {
		return nil, err
	}
	told := len(poured.Warnings) + len(read.Warnings)
	joined, err := readings.Join(options.File, poured, read)
	if err != nil {
		return nil, err
	}
	for _, w := range joined.Warnings[told:] {
		w.File = title(o.file)
		env.say("warning: %s", w.Error())
	}
	for _, r := range joined.Rows {
		bad := &readings.RowError{File: title(o.file), Name: r.Name}
		switch {
		case r.Backing == "":
			bad.Problem, bad.Hint = "neither file says what it lay on", "add a column backing, or say --over for all"
		case r.ThicknessMM == 0:
			bad.Problem, bad.Hint = "neither file says how thick it is", "add a column thickness_mm, or say --thickness for all"
		default:
			continue
		}
		return nil, bad
	}
	return readings.Pieces(options.File, joined.Rows)
}

// outcomes are those of a report by name.
func outcomes(r archive.Report) map[string]archive.Outcome {
	out := map[string]archive.Outcome{}
	for outcome, names := range map[archive.Outcome][]string{archive.Added: r.Added, archive.Changed: r.Changed, archive.Unchanged: r.Unchanged} {
		for _, n := range names {
			out[n] = outcome
		}
	}
	return out
}

// previewChips shows what an import of chips would store.
func previewChips(ctx context.Context, env *Env, b *archive.Bench, resin string, chips []archive.Chip) error {
	report, err := b.PreviewChips(ctx, resin, chips)
	if err != nil {
		return err
	}
	if env.JSON {
		return env.emit(struct {
			Preview bool   `json:"preview"`
			Resin   string `json:"resin"`
			importView
			Chips []chipView `json:"chips"`
		}{true, resin, viewImport(report), viewChips(chips, outcomes(report))})
	}
	if err := printChips(env, chips, outcomes(report)); err != nil {
		return err
	}
	env.print("would be %s; nothing was stored", report)
	if len(report.Changed) > 0 {
		env.say("to change chips that the bench holds, add --replace; the old cards are kept")
	}
	return nil
}

// previewPigments shows what an import of pigments would store.
func previewPigments(ctx context.Context, env *Env, b *archive.Bench, pigments []archive.Pigment) error {
	report, err := b.PreviewPigments(ctx, pigments)
	if err != nil {
		return err
	}
	outcome := outcomes(report)
	if env.JSON {
		type card struct {
			Outcome archive.Outcome `json:"outcome"`
			pigmentView
		}
		cards := make([]card, len(pigments))
		for i, p := range pigments {
			cards[i] = card{outcome[p.Code], viewPigment(p)}
		}
		return env.emit(struct {
			Preview bool `json:"preview"`
			importView
			Pigments []card `json:"pigments"`
		}{true, viewImport(report), cards})
	}
	t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg", "would be")
	for _, p := range pigments {
		t.add(p.Code, p.CIName, p.Name, known(p.Density, ""), known(p.MaxPHR, ""), known(p.PricePerKG, ""), string(outcome[p.Code]))
	}
	t.print(env.Stdout)
	env.print("would be %s; nothing was stored", report)
	return nil
}
