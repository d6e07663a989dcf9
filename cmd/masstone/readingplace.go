package main

import (
	"context"
	"errors"
	"fmt"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// A place is the card that typed readings go to.
type place struct {
	fresh  bool // the bench has no such card yet
	target archive.Target
	chip   archive.Chip
}

// newPlace finds the card, or prepares a new one.
func newPlace(ctx context.Context, b *archive.Bench, o *readingAddOptions) (place, error) {
	var p place
	switch o.kind {
	case "target":
		t, err := b.Target(ctx, o.client, o.name)
		p.target, p.fresh = t, errors.Is(err, archive.ErrNotFound)
		if err != nil && !p.fresh {
			return p, err
		}
		if p.fresh {
			p.target = archive.Target{Client: o.client, Name: o.name, Formula: string(color.CIEDE2000)}
		}
	case "chip":
		resin, err := resinAt(ctx, b, o.resin)
		if err != nil {
			return p, err
		}
		c, err := b.Chip(ctx, resin.Code, o.name)
		p.chip, p.fresh = c, errors.Is(err, archive.ErrNotFound)
		if err != nil && !p.fresh {
			return p, err
		}
		if p.fresh {
			p.chip = archive.Chip{Resin: resin.Code, Name: o.name}
		}
	}
	return p, nil
}

// describe asks what a new card says beside its readings.
func (p *place) describe(ctx context.Context, b *archive.Bench, d *dialogue, o *readingAddOptions, given func(string) bool) error {
	if o.kind == "backing" {
		return nil
	}
	number := func(flag, question string, m measure, v *float64) error {
		if given(flag) {
			return nil
		}
		return d.until(ctx, question, short(*v), func(text string) (err error) {
			*v, err = m.parse(text)
			return err
		})
	}
	d.env.say("%s %q is new.", o.kind, o.name)
	if o.kind == "chip" && len(o.phr) == 0 && !o.bare {
		err := d.until(ctx, "What is in it, such as WH=1,RD=0.2; empty for bare resin", "", func(text string) error {
			o.phr, o.bare = nil, text == ""
			if o.bare {
				return nil
			}
			if err := (loadings[float64]{inPHR, &o.phr}).Set(text); err != nil {
				return fmt.Errorf("%q %w", text, err)
			}
			for code := range o.phr {
				if _, err := b.Pigment(ctx, code); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	if !given("over") {
		err := d.until(ctx, "Over which backing", o.reading.over, func(text string) error {
			o.reading.over = text
			_, err := b.Backing(ctx, text)
			return err
		})
		if err != nil {
			return err
		}
	}
	if err := number("thickness", "Thickness in mm", inMM, &o.reading.thickness); err != nil {
		return err
	}
	if o.kind == "target" {
		return number("tolerance", "Tolerance, CIEDE2000", inDE, &o.tolerance)
	}
	if o.chipGrams == 0 {
		o.chipGrams = 50 // shown as the usual answer
	}
	if err := number("chip-grams", "Mixed resin in its cup, g", inGrams, &o.chipGrams); err != nil {
		return err
	}
	if o.scale == 0 {
		o.scale = 0.01
	}
	return number("scale", "Step of the scale, g", inGrams, &o.scale)
}

// store puts the readings on the card; all is how many it has under their light
// then.
func (p *place) store(ctx context.Context, b *archive.Bench, o readingAddOptions, rows []readings.Row) (outcome archive.Outcome, all int, err error) {
	fresh := readingsOf(rows)
	with := func(old []archive.Reading) []archive.Reading {
		if o.replace {
			old = nil
		}
		return append(old[:len(old):len(old)], fresh...)
	}
	switch o.kind {
	case "target":
		t := p.target
		if p.fresh {
			t.ThicknessMM, t.Backing, t.Tolerance = o.reading.thickness, o.reading.over, o.tolerance
		}
		t.Readings = with(t.Readings)
		if all, err = countUnder(o, t.Readings); err != nil {
			return "", 0, err
		}
		outcome, err = b.PutTarget(ctx, t, archive.Replace)
	case "chip":
		c := p.chip
		if p.fresh {
			c.Loadings, c.ThicknessMM, c.Backing, c.ChipGrams, c.ScaleGrams = o.phr, o.reading.thickness, o.reading.over, o.chipGrams, o.scale
		}
		c.Readings = with(c.Readings)
		if all, err = countUnder(o, c.Readings); err != nil {
			return "", 0, err
		}
		var report archive.Report
		report, err = b.ImportChips(ctx, c.Resin, []archive.Chip{c}, archive.Replace)
		outcome = outcomes(report)[c.Name]
	case "backing":
		piece, err := onePiece(o.name, rows)
		if err != nil {
			return "", 0, err
		}
		card := archive.Backing{Name: o.name}
		if err := greyOf(&card, piece.Labs[0]); err != nil {
			return "", 0, err
		}
		replace := o.replace
		if old, err := b.Backing(ctx, o.name); err == nil && old.Source == "from memory" {
			replace = true
		}
		outcome, err := b.PutBacking(ctx, card, onChange(replace))
		return outcome, len(rows), advise(err, "add --replace to replace the card")
	}
	return outcome, all, err
}

// countUnder counts the readings of a piece under the light typed, and refuses
// readings that are not of one piece.
func countUnder(o readingAddOptions, all []archive.Reading) (int, error) {
	piece, err := pieceOf(o.name, all)
	if err != nil {
		return 0, fmt.Errorf("%s %q: the bench has readings taken another way (%w); add --replace to replace them", o.kind, o.name, err)
	}
	return readingsUnder(piece, o.reading.condition()), nil
}
