package workbench

import (
	"context"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// An aperture is told and kept by its diameter in mm, as instruments are sold: here it
// becomes the radius that calibrations count by. Of a reading it stands in its
// circumstances, as its file, its instrument's card or the request says.

// apertureOf is what a reading was read through, 0 where nobody says.
func apertureOf(c readings.Circumstances) calibrate.ApertureMM {
	return calibrate.ApertureOf(diameterOf(c.Aperture))
}

var millimetres = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)$|(\d+(?:[.,]\d+)?)\s*mm\b`)

// diameterOf reads an aperture as files write it: 8 mm, 8, 4 mm of 8 mm lit. Of several
// the widest counts, where light enters; 0 is for one in words alone.
func diameterOf(text string) float64 {
	widest := 0.0
	for _, m := range millimetres.FindAllStringSubmatch(strings.TrimSpace(text), -1) {
		if mm, err := strconv.ParseFloat(strings.Replace(m[1]+m[2], ",", ".", 1), 64); err == nil {
			widest = max(widest, mm)
		}
	}
	return widest
}

// apertureText is a diameter as it is kept with a reading.
func apertureText(mm float64) string { return figure.Short(mm) + " mm" }

// A Sight says what readings of a file were read with, which the file need not say.
type Sight struct {
	Instrument string  // by its name, where the file does not name one
	ApertureMM float64 // its diameter; as the file says if 0, or as the instrument's card

	cards []archive.Equipment
}

// look finds the cards of the instruments.
func (s *Sight) look(ctx context.Context, a *archive.Bench) (err error) {
	if err := checkMM("aperture-mm", s.ApertureMM); err != nil {
		return err
	}
	if s.Instrument != "" {
		if _, err := a.EquipmentNamed(ctx, archive.Instrument, s.Instrument); err != nil {
			return err
		}
	}
	s.cards, err = a.Equipment(ctx, archive.Instrument)
	return err
}

// through fills in what readings were read through: a stated diameter, or else what the
// instrument's card says.
func (r *Readings) through(ctx context.Context, a *archive.Bench, apertureMM float64) error {
	s := Sight{Instrument: r.Instrument, ApertureMM: apertureMM}
	if err := s.look(ctx, a); err != nil {
		return err
	}
	if r.File != nil {
		r.File.Sight = s
	} else {
		s.fill(&r.circumstances)
	}
	return nil
}

// fill completes what a file says of a reading.
func (s *Sight) fill(c *readings.Circumstances) {
	if c.Instrument == "" {
		c.Instrument = s.Instrument
	}
	if s.ApertureMM > 0 {
		c.Aperture = apertureText(s.ApertureMM)
	}
	at := slices.IndexFunc(s.cards, func(e archive.Equipment) bool { return e.Name == c.Instrument })
	if c.Aperture == "" && at >= 0 && s.cards[at].ApertureMM > 0 {
		c.Aperture = apertureText(s.cards[at].ApertureMM)
	}
}
