package color

import (
	"fmt"
	"math"
)

// Spectrum is a reading on its own bands: R[i] is the reflectance factor (0 to
// 1) at FirstNM + i*StepNM nm. Steps of 1, 5, 10 and 20 nm are known. The bands
// must reach from 400 to 700 nm, may reach further, and must fall on 400 nm.
type Spectrum struct {
	FirstNM int       `json:"first_nm"`
	StepNM  int       `json:"step_nm"`
	R       []float64 `json:"r"`
}

const (
	widestFirst, widestLast = 200, 2500 // no colour instrument reads outside
	brightest               = 2.0       // nor any surface here reflects more; a percent file does
)

// LastNM is the wavelength of the last band in nm.
func (s Spectrum) LastNM() int { return s.FirstNM + (len(s.R)-1)*s.StepNM }

// Check refuses bands that cannot be used, and values that are not reflectance
// factors: not a number, negative, or so large that they must be percent.
func (s Spectrum) Check() error {
	if s.StepNM != 1 && s.StepNM != 5 && s.StepNM != 10 && s.StepNM != 20 {
		return fmt.Errorf("bands are %d nm apart; export the reading at 1, 5, 10 or 20 nm", s.StepNM)
	}
	if s.FirstNM < widestFirst || len(s.R) > widestLast-widestFirst+1 || s.LastNM() > widestLast {
		return fmt.Errorf("%d bands from %d nm do not lie within %d-%d nm; check the first wavelength", len(s.R), s.FirstNM, widestFirst, widestLast)
	}
	if s.FirstNM > FirstNM || s.LastNM() < LastNM {
		return fmt.Errorf("bands cover %d-%d nm; %d-%d nm are needed", s.FirstNM, s.LastNM(), FirstNM, LastNM)
	}
	if (FirstNM-s.FirstNM)%s.StepNM != 0 {
		return fmt.Errorf("bands %d, %d, ... nm pass by %d nm; export the reading on even bands", s.FirstNM, s.FirstNM+s.StepNM, FirstNM)
	}
	for i, v := range s.R {
		nm := s.FirstNM + i*s.StepNM
		switch {
		case math.IsNaN(v) || math.IsInf(v, 0):
			return fmt.Errorf("reflectance at %d nm is not a number; read the part again", nm)
		case v < 0:
			return fmt.Errorf("reflectance %g at %d nm is negative; calibrate the instrument on its black trap and read again", v, nm)
		case v > brightest:
			return fmt.Errorf("reflectance %g at %d nm is above %g; if the file is in percent, divide by 100", v, nm, brightest)
		}
	}
	return nil
}

// Reflectance brings the reading to the model grid. Bands at 1 or 5 nm are read
// off at every tenth nm; between bands at 20 nm the value comes from Sprague's
// polynomial (15), never below 0. Its errors are those of Check.
func (s Spectrum) Reflectance() (Reflectance, error) {
	if err := s.Check(); err != nil {
		return Reflectance{}, err
	}
	values, step := s.R, s.StepNM
	if step == 2*StepNM {
		values, step = sprague(s.R, 2), StepNM
	}
	var r Reflectance
	for i := range r {
		r[i] = max(0, values[(WavelengthNM(i)-s.FirstNM)/step])
	}
	return r, nil
}

// XYZ gives the tristimulus values by all bands of the reading, with the ASTM
// E2022 weights of its own step and range. Errors: those of Check, and an
// unknown condition.
func (s Spectrum) XYZ(c Condition) (XYZ, error) {
	sum, _, err := s.sums(c)
	return XYZ{sum[0], sum[1], sum[2], c}, err
}

// Lab gives CIELAB by all bands of the reading, sample and white by the same
// weights. Errors: those of XYZ.
func (s Spectrum) Lab(c Condition) (Lab, error) {
	sum, white, err := s.sums(c)
	if err != nil {
		return Lab{}, err
	}
	return labOf(sum, white, c), nil
}

func (s Spectrum) sums(c Condition) (sum, white [3]float64, err error) {
	if err := c.Check(); err != nil {
		return sum, white, err
	}
	if err := s.Check(); err != nil {
		return sum, white, err
	}
	for i, w := range stepWeights(c, s.FirstNM, s.StepNM, len(s.R)) {
		for k := range w {
			sum[k] += w[k] * s.R[i] // (5)
			white[k] += w[k]
		}
	}
	return sum, white, nil
}
