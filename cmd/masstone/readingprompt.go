package main

import (
	"context"
	"errors"
	"fmt"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

// What a new chip is usually cast and weighed with, as the prompt offers it
// (common practice, no source).
const (
	usualChipGrams = 50
	usualScale     = 0.01
)

// askWhat asks what the readings are of; the code on a label will do for either
// answer.
func (o *typedReadings) askWhat(ctx context.Context, d *dialogue) error {
	p := &o.Place
	if p.Kind == "" && p.Name == "" {
		err := d.until(ctx, "Readings of a target, a backing or a chip", "target", func(text string) error {
			if papers.IsRef(text) {
				p.Name = text
				return nil
			}
			return o.setKind(text)
		})
		if err != nil {
			return err
		}
	}
	if p.Name == "" {
		err := d.until(ctx, "Name of the "+string(p.Kind), "", func(text string) error {
			if p.Name = text; text == "" {
				return errors.New("give the name it goes by")
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// askLight asks under which light the piece was read.
func (o *typedReadings) askLight(ctx context.Context, d *dialogue) error {
	return d.until(ctx, "Read under which light and observer", "D65/10", func(text string) error {
		c, err := color.ParseCondition(text)
		if err != nil {
			c.Observer = o.reading.condition().Observer
			if c.Illuminant, err = color.ParseIlluminant(text); err != nil {
				return err
			}
		}
		o.reading.illuminant, o.reading.observer = c.Illuminant, c.Observer
		return nil
	})
}

// askNew asks what a new card says beside its readings.
func (o *typedReadings) askNew(ctx context.Context, b *workbench.Bench, d *dialogue) error {
	p, n := o.Place, &o.Piece
	if p.Kind == workbench.BackingPiece {
		return nil
	}
	check := func() error { return workbench.CheckNewPiece(ctx, b, p, *n) }
	d.env.say("%s is new.", p)
	if p.Kind == workbench.ChipPiece && len(n.Loadings) == 0 && !n.Bare {
		err := d.until(ctx, "What is in it, such as WH=1,RD=0.2; empty for bare resin", "", func(text string) error {
			n.Loadings, n.Bare = nil, text == ""
			if n.Bare {
				return nil
			}
			if err := (loadings[calibrate.PHR]{inPHR, &n.Loadings}).Set(text); err != nil {
				return fmt.Errorf("%q %w", text, err)
			}
			return check()
		})
		if err != nil {
			return err
		}
	}
	if !o.given("over") {
		err := d.until(ctx, "Over which backing", o.reading.over, func(text string) error {
			o.reading.over, n.Over = text, text
			return check()
		})
		if err != nil {
			return err
		}
	}
	if err := askNumber(ctx, d, o.given("thickness"), "Thickness in mm", inMM, &o.reading.thickness, 0); err != nil {
		return err
	}
	if p.Kind == workbench.TargetPiece {
		return askNumber(ctx, d, o.given("tolerance"), "Tolerance, CIEDE2000", inDE, &n.Tolerance, 0)
	}
	if err := askNumber(ctx, d, o.given("chip-grams"), "Mixed resin in its cup, g", inGrams, &n.ChipGrams, usualChipGrams); err != nil {
		return err
	}
	inUse, err := workbench.AllEquipment(ctx, b, archive.Scale)
	if err != nil {
		return err
	}
	if scales := inUse.Equipment; n.ScaleGrams == 0 && len(scales) > 0 && scales[0].InUse {
		n.ScaleGrams = calibrate.Grams(*scales[0].StepGrams)
	}
	return askNumber(ctx, d, o.given("scale"), "Step of the scale, g", inGrams, &n.ScaleGrams, usualScale)
}

// askNumber asks for a number unless it was given; what it is already, or else
// the usual one, is offered.
func askNumber[V ~float64](ctx context.Context, d *dialogue, given bool, question string, m measure, v *V, usual V) error {
	if given {
		return nil
	}
	if *v == 0 {
		*v = usual
	}
	return d.until(ctx, question, figure.Short(float64(*v)), func(text string) error {
		n, err := m.Parse(text)
		*v = V(n)
		return err
	})
}

// askStore shows the readings, asks about those that do not belong, and whether
// to store the others.
func (o *typedReadings) askStore(ctx context.Context, env *Env, d *dialogue) (bool, error) {
	for {
		s, err := workbench.Scatter(o.Place, o.Labs, o.LeaveOut)
		if err != nil {
			return false, err
		}
		printScatter(env, o.Labs, s)
		if s.Outlier == nil {
			break
		}
		yes, err := d.agrees(ctx, fmt.Sprintf("Reading %d does not belong to the others. Leave it out?", *s.Outlier))
		if err != nil {
			return false, err
		}
		if !yes {
			break
		}
		o.LeaveOut = append(o.LeaveOut, *s.Outlier)
	}
	return d.agrees(ctx, fmt.Sprintf("Store this as the reading of %s?", o.Place))
}
