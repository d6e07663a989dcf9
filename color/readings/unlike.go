package readings

import (
	"fmt"

	"masstone/color"
)

// A Case is a kind of piece that absorption and scattering alone do not describe.
type Case string

// The cases. Both are told by their readings, so that a piece of the kind that
// happens to read like any other is not found.
const (
	// Bright rises above what a surface can reflect: it fluoresces, or it mirrors
	// the lamp, as metallic and pearl do.
	Bright Case = "fluorescent, metallic or pearl"
	// Uneven scatters from reading to reading more than an instrument does: metallic,
	// pearl or textured, too small or too curved for the aperture, or not one piece.
	Uneven Case = "metallic, pearl, textured, too small or too curved"
)

// brightest is the reflectance factor that a good reading of a surface does not
// pass: 1 is the perfect diffuser (CIE 15), and an instrument is out by 2 % of its
// white at most (common practice, no source).
const brightest = 1.02

// A Sign is what of its readings says that a piece is of such a kind.
type Sign struct {
	Case Case   `json:"case"`
	Why  string `json:"why"`
}

// Signs tells by which of its readings a piece is not of the kind that a layer
// which absorbs and scatters can be. None for most.
func (p Piece) Signs() ([]Sign, error) {
	var all []Sign
	for _, r := range p.Readings {
		if r.Spectrum == nil {
			continue
		}
		at, most := 0, 0.0
		for i, v := range r.Spectrum.R {
			if v > most {
				at, most = r.Spectrum.FirstNM+i*r.Spectrum.StepNM, v
			}
		}
		if most > brightest {
			all = append(all, Sign{Bright, fmt.Sprintf("it reflects %.2f of the light at %d nm, where no surface passes 1", most, at)})
			break
		}
	}
	for _, lab := range p.Labs {
		s, err := solidOf(lab.Under)
		if err != nil {
			return nil, err
		}
		over, limit, err := s.beyond(lab)
		if err != nil {
			return nil, err
		}
		if over > impossibleWarn {
			all = append(all, Sign{Bright, fmt.Sprintf("its chroma is %.1f at L* %.1f, where no surface passes %.1f under %s", over+limit, lab.L, limit, lab.Under)})
		}
	}
	repeats := p.Repeat
	if p.SpectrumRepeat != nil {
		repeats = append(append([]color.Repeatability{}, repeats...), *p.SpectrumRepeat)
	}
	for _, r := range repeats {
		if r.Apart() {
			all = append(all, Sign{Uneven, fmt.Sprintf("its readings lie CIEDE2000 %.1f from their mean under %s, where an instrument repeats within 0.1", r.MCDM, r.Mean.Under)})
			break
		}
	}
	return all, nil
}
