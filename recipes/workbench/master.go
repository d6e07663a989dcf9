package workbench

import (
	"context"
	"fmt"
	"math"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// leastFading is the least CIEDE2000 between readings of different days that is
// taken for a change of the piece rather than of the instrument or of where it was
// held. Common practice, no source.
const leastFading = 0.3

// A fading is how a piece reads against what it read before.
type fading struct {
	before, now color.Lab
	de          float64 // CIEDE2000
	words       string  // now against before: lighter, weaker
	changed     bool    // by more than readings of one piece differ
}

// text is the difference in words: 0.84 CIEDE2000, lighter, weaker.
func (f fading) text() string { return fmt.Sprintf("%.2f CIEDE2000, %s", f.de, f.words) }

// fadingOf holds readings of a piece against older ones, under the first light
// that both tell; ok is false where there is none.
func fadingOf(ctx context.Context, a *archive.Bench, before, now readings.Piece) (f fading, ok bool, err error) {
	if before.Measurement != now.Measurement {
		return f, false, nil
	}
	was, err := readingOf(before)
	if err != nil {
		return f, false, err
	}
	for _, lab := range now.Labs {
		old, err := was.Under(lab.Under)
		if err != nil {
			return f, false, err
		}
		if old == nil {
			continue
		}
		d, err := color.Compare(*old, lab, color.CIEDE2000)
		if err != nil {
			return f, false, err
		}
		noise := 0.0
		for _, p := range []readings.Piece{before, now} {
			sd, err := readingNoise(ctx, a, readingsOf(p.Readings))
			if err != nil {
				return f, false, err
			}
			noise = math.Hypot(noise, sd/math.Sqrt(math.Max(1, float64(readingsUnder(p, lab.Under)))))
		}
		return fading{*old, lab, d.DE, d.Words(), d.DE > math.Max(leastFading, 3*noise)}, true, nil
	}
	return f, false, nil
}

// askSamePiece refuses readings of a target that differ from those it has, until
// it is said whether the piece has changed.
func (r AddReadingsRequest) askSamePiece(ctx context.Context, a *archive.Bench, t archive.Target, piece readings.Piece) error {
	if r.SamePiece || r.Replace || len(t.Readings) == 0 {
		return nil
	}
	before, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return nil // said where they are put together
	}
	f, ok, err := fadingOf(ctx, a, before, piece)
	if err != nil || !ok || !f.changed {
		return err
	}
	return &Error{Conflict, "same-piece", fmt.Errorf("%s: the piece reads %s, against the readings of %s (%s, now %s); if it is the same and they shall be averaged add %s, if it has changed %s: a new card, the old one is kept",
		r.Place, f.text(), figure.Day(t.At), figure.LabOf(f.before), figure.LabOf(f.now), remedy.Input("same-piece"), remedy.Input("replace"))}
}

// compareMaster holds the newest readings of the master against those that were
// approved.
func (o *reorder) compareMaster(ctx context.Context, a *archive.Bench) error {
	then := o.Provenance.Target
	now, err := a.Target(ctx, then.Client, then.Name)
	if err != nil || now.Ref == then.Ref {
		return err
	}
	was, err := pieceOf(then.Name, then.Readings)
	if err != nil {
		return err
	}
	is, err := pieceOf(now.Name, now.Readings)
	if err != nil {
		return err
	}
	f, ok, err := fadingOf(ctx, a, was, is)
	if err != nil || !ok || !f.changed {
		return err
	}
	o.master = &f
	o.changes = append(o.changes, Change{"the master", figure.LabOf(f.before).String(), figure.LabOf(f.now).String(), "it reads " + f.text() + "; the sheet is for the colour approved then, ask the client"})
	return nil
}

// question is what to put to the client before the parts are cast; "" where
// nothing changed.
func (o *reorder) question() string {
	if len(o.changes) == 0 {
		return ""
	}
	name, day := o.Provenance.Target.Name, figure.Day(o.Approval.At)
	if f := o.master; f != nil {
		return fmt.Sprintf("You approved %q on %s at L* a* b* %s. Your sample now reads %s: %s. Shall the new parts match what you approved then, or the sample as it is now?",
			name, day, figure.LabOf(f.before).String(), figure.LabOf(f.now).String(), f.text())
	}
	return fmt.Sprintf("You approved %q on %s. Since then our materials changed (%s). Would you like to see a first part before we cast the rest?", name, day, o.changed())
}

// changed lists what changed.
func (o *reorder) changed() string {
	var all []string
	for _, c := range o.changes {
		all = append(all, c.What)
	}
	return figure.List(all)
}
