package workbench

import (
	"context"
	"errors"
	"fmt"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A ReadPourRequest takes the reading of a cured part of a pour.
type ReadPourRequest struct {
	Pour string
	// Readings of the part. Typed ones without an illuminant were read under
	// the light of the target.
	Readings  Readings
	Spot      Spot     // read of the part; its flat spot is the target's if 0
	Companion bool     // read on a flat chip from the same cup, in the part's place
	On        string   // day it was read, 2026-03-31; today if empty
	Part      int      // which of the parts of the pour, from 1; 0 where it is the only one
	AgeHours  float64  // from the pour to the reading; 0 if not known
	PartC     *float64 // temperature of the part, °C; nil if nobody looked
	Note      string
	Again     bool // meant, though the same was recorded a moment ago

	// ThicknessSDMM is to how much the thickness of the part is known; nil for its mould's
	// or target's.
	ThicknessSDMM *float64
}

// A PourReading is what a cured part read as, and the verdict on it.
type PourReading struct {
	Pour      string      `json:"pour"`
	On        string      `json:"read_on"`
	Readings  int         `json:"readings"`
	Companion bool        `json:"companion,omitempty" doc:"read on a flat chip from the same cup"`
	Colors    []PartColor `json:"colors"`
	// OfSpectra is set where it was read as a spectrum.
	OfSpectra *PartColor     `json:"of_spectra,omitempty" doc:"what the spectra come to under D65/10"`
	Taken     *archive.Taken `json:"taken,omitempty" doc:"as the file says of the first reading"`
	// OtherWarmth is set where the part was too warm or too cold to be compared.
	OtherWarmth string          `json:"other_temperature,omitempty" doc:"why its verdict is in doubt: read too warm or too cold"`
	Signs       []readings.Sign `json:"signs,omitempty" doc:"that it is no surface that only absorbs and scatters"`
	Verdict     *kept.Verdict   `json:"verdict,omitempty"`

	Recipe   string          `json:"-"`
	Spectrum *color.Spectrum `json:"-"` // where it was read as one
	Remarks  Remarks         `json:"-"`
}

// A MeanReading is what readings of one piece come to under a light.
type MeanReading struct {
	Under    string        `json:"under"`
	Lab      figure.Lab    `json:"lab" doc:"the mean"`
	Readings int           `json:"readings"`
	MCDM     figure.Number `json:"mcdm" doc:"mean difference from their mean"`
	Outlier  *int          `json:"outlier,omitempty" doc:"the reading that does not belong to the others, from 1"`
}

func meanReadings(p readings.Piece) []MeanReading {
	out := []MeanReading{}
	for i, lab := range p.Labs {
		out = append(out, meanReading(p.Repeat[i], readingsUnder(p, lab.Under)))
	}
	return out
}

func meanReading(r color.Repeatability, n int) MeanReading {
	m := MeanReading{Under: r.Mean.Under.String(), Lab: figure.LabOf(r.Mean), Readings: n, MCDM: figure.Number(r.MCDM)}
	if odd := r.Outlier + 1; odd > 0 {
		m.Outlier = &odd
	}
	return m
}

// A PartColor is the mean of readings of a part under a light, as a screen can
// show it.
type PartColor struct {
	MeanReading
	Screen  string `json:"swatch"`
	InGamut bool   `json:"swatch_in_gamut"`
}

func partColors(p readings.Piece) []PartColor {
	out := []PartColor{}
	for i, m := range meanReadings(p) {
		out = append(out, partColor(m, p.Labs[i]))
	}
	return out
}

func partColor(m MeanReading, lab color.Lab) PartColor {
	c := PartColor{MeanReading: m}
	if s, err := lab.Swatch(); err == nil {
		c.Screen, c.InGamut = s.Hex(), s.InGamut
	}
	return c
}

// ofSpectra is what the spectra of a part come to under D65/10; nil without.
func ofSpectra(p readings.Piece) *PartColor {
	if p.SpectrumRepeat == nil {
		return nil
	}
	c := partColor(meanReading(*p.SpectrumRepeat, spectraOf(p)), p.SpectrumRepeat.Mean)
	return &c
}

// ReadPour keeps the reading of a cured part, and holds it against the target
// in the target's own formula and tolerance, or its limits per axis.
func ReadPour(ctx context.Context, b *Bench, r ReadPourRequest) (PourReading, error) {
	var v PourReading
	if err := r.Readings.given("pour " + r.Pour); err != nil {
		return v, err
	}
	if err := r.Spot.check(); err != nil {
		return v, err
	}
	var rows []readings.Row
	var err error
	if r.Readings.File != nil { // before the bench is locked
		if err := r.Readings.through(ctx, b.archive, r.Spot.ApertureMM); err != nil {
			return v, err
		}
		if rows, err = r.Readings.rows(r.Pour, r.Pour, &v.Remarks); err != nil {
			return v, err
		}
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		r, rows := r, rows
		c, err := castNamed(ctx, a, r.Pour)
		if err != nil {
			return err
		}
		if err := checkThicknessSD("pour "+r.Pour, r.ThicknessSDMM, c.recipe.ThicknessMM); err != nil {
			return err
		}
		e, err := equipmentFor(ctx, a, archive.Instrument, r.Readings.Instrument)
		if err != nil {
			return err
		}
		r.Readings.read(e, &v.Remarks)
		if r.Readings.File == nil {
			if err := r.Readings.through(ctx, a, r.Spot.ApertureMM); err != nil {
				return err
			}
			if rows, err = r.typed(ctx, a, c, &v.Remarks); err != nil {
				return err
			}
		}
		reading := archive.PourReading{Pour: c.pour.Ref, ReadOn: r.On, Readings: readingsOf(rows), Part: r.Part, AgeHours: r.AgeHours, PartC: r.PartC, Companion: r.Companion, FlatMM: r.Spot.FlatMM, ThicknessSD: r.ThicknessSDMM, Note: r.Note}
		if err := r.ofCup(ctx, a, c); err != nil {
			return err
		}
		piece, err := pieceOf(c.pour.ID(), reading.Readings)
		if err != nil {
			return err
		}
		still, err := drifts{}.change(ctx, a, c.recipe.Resin, reading)
		if err != nil {
			return err
		}
		if v.Verdict, err = inspect(ctx, a, c.recipe, piece, still); err != nil {
			return err
		}
		if reading.Verdict, err = v.Verdict.Document(); err != nil {
			return err
		}
		if reading, err = a.AddPourReading(ctx, reading); err != nil {
			return err
		}
		if err := r.repeats(ctx, a, c, reading); err != nil {
			return err
		}
		v.Pour, v.On, v.Readings, v.Colors = c.pour.ID(), reading.ReadOn, len(piece.Readings), partColors(piece)
		v.Recipe, v.Spectrum, v.OfSpectra, v.Taken = c.recipe.ID(), piece.Spectrum, ofSpectra(piece), takenOf(piece.Circumstances)
		v.Companion = reading.Companion
		v.Remarks.doubt(piece)
		v.Remarks.ageless(reading, c.pour)
		t, err := targetOf(ctx, a, c.recipe)
		if err != nil {
			return err
		}
		if v.OtherWarmth = otherWarmth(reading, t); v.OtherWarmth != "" {
			v.Remarks.warn("%s; the verdict is of the part as it was; let it come to that and read it again. It teaches neither drift nor fit", v.OtherWarmth)
		}
		return r.sign(ctx, a, c, piece, &v)
	})
	b.warnAhead(r.On, &v.Remarks)
	return v, err
}

// ofCup refuses a part that the cup has not.
func (r ReadPourRequest) ofCup(ctx context.Context, a *archive.Bench, c cast) error {
	if r.Part < 0 {
		return outOfRange("part", r.Part, "1 or more")
	}
	k, err := a.CupOfPour(ctx, c.pour.Ref)
	switch {
	case errors.Is(err, archive.ErrNotFound):
		return nil
	case err != nil:
		return err
	case r.Part > k.Parts:
		return invalid("part", "%s: %s is of %s", remedy.InputAs("part", fmt.Sprint(r.Part)), c.pour.ID(), figure.Count(k.Parts, "part"))
	}
	return nil
}

// sign warns of a part that the instrument cannot read, and of one that is no
// surface as the calibration knows them.
func (r ReadPourRequest) sign(ctx context.Context, a *archive.Bench, c cast, piece readings.Piece, v *PourReading) (err error) {
	if v.Signs, err = piece.Signs(); err != nil {
		return err
	}
	v.Remarks.signs(v.Signs, map[bool]string{true: "what is learnt from it is in doubt", false: companion()}[r.Companion])
	if r.Companion {
		return nil
	}
	if r.Spot.FlatMM == 0 {
		t, err := targetOf(ctx, a, c.recipe)
		if err != nil {
			return err
		}
		if t != nil {
			r.Spot.FlatMM = t.FlatMM
		}
	}
	if small := r.Spot.tooSmall(piece); small != "" {
		v.Remarks.warn("%s; %s", small, companion())
	}
	return nil
}

// repeats refuses readings that were recorded a moment ago.
func (r ReadPourRequest) repeats(ctx context.Context, a *archive.Bench, c cast, reading archive.PourReading) error {
	if r.Again || len(c.readings) == 0 {
		return nil
	}
	before := c.readings[len(c.readings)-1]
	if before.ReadOn == reading.ReadOn && before.Part == reading.Part && before.AgeHours == reading.AgeHours && before.Companion == reading.Companion && before.FlatMM == reading.FlatMM && before.Note == reading.Note && same(before.Readings, reading.Readings) {
		return twice(c.pour.ID()+" has such a reading", before.Stamp, reading.Stamp)
	}
	return nil
}

// typed are the readings typed for a cast part, under the light of its target
// where they do not say it.
func (r ReadPourRequest) typed(ctx context.Context, a *archive.Bench, c cast, say *Remarks) ([]readings.Row, error) {
	what, in := "pour "+c.pour.ID(), r.Readings
	if in.Condition.Illuminant != "" {
		return in.rows(what, c.pour.ID(), say)
	}
	t, err := targetOf(ctx, a, c.recipe)
	if err != nil {
		return nil, err
	}
	if t == nil {
		return in.rows(what, c.pour.ID(), say) // which says that the light is missing
	}
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return nil, err
	}
	if len(piece.Labs) != 1 {
		return nil, invalid("illuminant", "%s: %s is missing; its target was read under several lights, so say under which %s was read", what, remedy.Input("illuminant"), remedy.Input("lab"))
	}
	in.Condition.Illuminant = piece.Labs[0].Under.Illuminant
	if in.Condition.Observer == 0 {
		in.Condition.Observer = piece.Labs[0].Under.Observer
	}
	rows, err := in.rows(what, c.pour.ID(), say)
	if err == nil {
		say.say("taken as read under %s, as the target; say %s and %s if not", in.Condition, remedy.Input("illuminant"), remedy.Input("observer"))
	}
	return rows, err
}

// doubt says which readings are hardly of the same piece.
func (r *Remarks) doubt(piece readings.Piece) {
	for i, lab := range piece.Labs {
		switch repeat := piece.Repeat[i]; {
		case repeat.Outlier >= 0:
			r.warn("reading %d under %s does not belong to the others; read the part again", repeat.Outlier+1, lab.Under)
		case repeat.Apart():
			r.warn("the readings under %s lie %.1f from their mean; read the part again", lab.Under, repeat.MCDM)
		}
	}
	switch repeat := piece.SpectrumRepeat; {
	case repeat == nil:
	case repeat.Outlier >= 0:
		r.warn("spectrum %d does not belong to the others; read the part again", repeat.Outlier+1)
	case repeat.Apart():
		r.warn("the spectra lie %.1f from their mean under %s; read the part again", repeat.MCDM, repeat.Mean.Under)
	}
}
