package archive

import (
	"fmt"
	"math"

	"masstone/color"
)

// A Lab is a CIELAB colour with the light and the observer it holds for. The
// archive has types of its own for what it stores, so that no change elsewhere
// changes what a stored document says.
type Lab struct {
	L          float64 `json:"L"`
	A          float64 `json:"a"`
	B          float64 `json:"b"`
	Illuminant string  `json:"illuminant"` // D65, A, FL11, ...
	Observer   int     `json:"observer"`   // 2 or 10 degrees
}

func (l Lab) check() error {
	switch {
	case !(l.L >= 0 && l.L <= 110), !(math.Abs(l.A) <= 200), !(math.Abs(l.B) <= 200):
		return fmt.Errorf("%w: Lab %g, %g, %g is no surface colour; read it again", ErrInvalid, l.L, l.A, l.B)
	case l.Observer != int(color.TwoDegree) && l.Observer != int(color.TenDegree):
		return fmt.Errorf("%w: observer %d; give 2 or 10 degrees", ErrInvalid, l.Observer)
	}
	// One name for each light, or a search by colour would miss the others.
	known, err := color.ParseIlluminant(l.Illuminant)
	switch {
	case err != nil:
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	case string(known) != l.Illuminant:
		return fmt.Errorf("%w: illuminant %q; write it %s", ErrInvalid, l.Illuminant, known)
	}
	return nil
}

// LabOf is a colour as the archive keeps it.
func LabOf(c color.Lab) Lab {
	return Lab{c.L, c.A, c.B, string(c.Under.Illuminant), int(c.Under.Observer)}
}

// Color is the colour for computing with.
func (l Lab) Color() color.Lab {
	return color.Lab{L: l.L, A: l.A, B: l.B, Under: color.Condition{Illuminant: color.Illuminant(l.Illuminant), Observer: color.Observer(l.Observer)}}
}

// A Spectrum is reflectance factors, as fractions, on the reading's own bands.
type Spectrum struct {
	FirstNM int       `json:"first_nm"`
	StepNM  int       `json:"step_nm"`
	R       []float64 `json:"r"`
}

// SpectrumOf is a spectrum as the archive keeps it.
func SpectrumOf(c color.Spectrum) Spectrum { return Spectrum(c) }

// Color is the spectrum for computing with.
func (s Spectrum) Color() color.Spectrum { return color.Spectrum(s) }

func (s Spectrum) check() error {
	const mostNM = 10000
	if s.FirstNM <= 0 || s.StepNM <= 0 || len(s.R) == 0 || s.FirstNM > mostNM || s.StepNM > mostNM || s.FirstNM+s.StepNM*(len(s.R)-1) > mostNM {
		return fmt.Errorf("%w: spectrum of %d bands from %d nm by %d nm; give its bands", ErrInvalid, len(s.R), s.FirstNM, s.StepNM)
	}
	for i, r := range s.R {
		if !(r >= -0.05 && r <= 2) { // fluorescence exceeds 1, noise goes below 0
			return fmt.Errorf("%w: reflectance factor %g at %d nm; give a fraction, 0 to 1", ErrInvalid, r, s.FirstNM+i*s.StepNM)
		}
	}
	return nil
}

// A Reading is what an instrument said of one piece: a Lab, a spectrum or both.
type Reading struct {
	Lab      *Lab      `json:"lab,omitempty"`
	Spectrum *Spectrum `json:"spectrum,omitempty"`
	Geometry string    `json:"geometry,omitempty"` // d/8 or 45/0
	Specular string    `json:"specular,omitempty"` // included or excluded
	Note     string    `json:"note,omitempty"`     // instrument, place on the piece
	Taken    *Taken    `json:"taken,omitempty"`
}

// Taken is how a reading was taken beside its light and geometry, as far as its
// file says it; free text.
type Taken struct {
	Mode        string `json:"m_condition,omitempty"` // M0 to M3 of ISO 13655
	Filter      string `json:"filter,omitempty"`
	Aperture    string `json:"aperture,omitempty"`
	Instrument  string `json:"instrument,omitempty"`
	Serial      string `json:"serial,omitempty"`
	Date        string `json:"date,omitempty"`
	Temperature string `json:"temperature,omitempty"`
	Geometry    string `json:"stated_geometry,omitempty"` // as the file has it, where it was taken for another
}

func checkReadings(readings []Reading) error {
	for n, r := range readings {
		if r.Lab == nil && r.Spectrum == nil {
			return fmt.Errorf("%w: reading %d is empty; give a Lab or a spectrum", ErrInvalid, n+1)
		}
		if r.Lab != nil {
			if err := r.Lab.check(); err != nil {
				return err
			}
		}
		if r.Spectrum != nil {
			if err := r.Spectrum.check(); err != nil {
				return err
			}
		}
	}
	return nil
}

// checkLoadings refuses loadings no cup can hold.
func checkLoadings(loadings map[string]float64) error {
	var total float64
	for code, phr := range loadings {
		if !(phr >= 0 && phr <= 100) {
			return fmt.Errorf("%w: loading of %s is %g phr; give 0 to 100", ErrInvalid, code, phr)
		}
		total += phr
	}
	if total > 100 {
		return fmt.Errorf("%w: loadings add up to %g phr, more paste than resin; give grams per 100 g of mixed resin", ErrInvalid, total)
	}
	return nil
}

// positive is for numbers that are unknown (0) or positive and finite.
func positive(what string, x float64) error {
	if !(x >= 0) || math.IsInf(x, 0) {
		return fmt.Errorf("%w: %s %g; give a positive number or leave it out", ErrInvalid, what, x)
	}
	return nil
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// milligrams rounds a mass in grams to the milligram, as the archive keeps it.
func milligrams(g float64) float64 { return math.Round(g*1000) / 1000 }
