package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"

	"masstone/calibrate/layer"
	"masstone/color"
)

// What the invented castings were weighed and read with.
const (
	ChipGrams  = 50
	ScaleGrams = 0.01
	noise      = 0.001 // of a reflectance factor
	index      = 1.50
)

// Invented heads every invented file.
const Invented = `# INVENTED DATA for the demonstration: no pigment, chip or part in this file exists.
# Made by a seeded program from invented curves, with weighing errors and reading noise.
`

// A Pigment is an invented paste. Curves are per mm and phr.
type Pigment struct {
	Code, Name             string
	Density, MaxPHR, Price float64
	absorbs, scatters      func(nm float64) float64
}

// hump is a smooth band of a height, about a wavelength.
func hump(nm, height, at, width float64) float64 {
	d := (nm - at) / width
	return height * math.Exp(-d*d/2)
}

// edge falls smoothly from a height to nothing at a wavelength.
func edge(nm, height, at, width float64) float64 {
	return height / (1 + math.Exp((nm-at)/width))
}

func slope(level, power float64) func(float64) float64 {
	return func(nm float64) float64 { return level * math.Pow(nm/550, -power) }
}

// Pigments lists the pastes of the invented shop.
func Pigments() []Pigment {
	return []Pigment{
		{"WH", "dense white", 2.1, 6, 18, func(nm float64) float64 { return 0.004 + edge(nm, 0.9, 402, 7) }, slope(7.5, 0.9)},
		{"BK", "soot black", 1.2, 1.5, 14, func(nm float64) float64 { return 9 * math.Pow(nm/550, -0.4) }, slope(0.35, 1)},
		{"YE", "lantern yellow", 1.3, 3, 41, func(nm float64) float64 { return 0.01 + edge(nm, 6.5, 482, 9) }, slope(1.1, 1.2)},
		{"OX", "quay oxide", 1.9, 3, 16, func(nm float64) float64 { return 0.12 + edge(nm, 5.5, 563, 13) }, slope(2.2, 0.4)},
		{"CR", "signal crimson", 1.25, 2, 58, func(nm float64) float64 {
			return 0.01 + hump(nm, 6.2, 545, 38) + hump(nm, 2.4, 420, 45) + edge(nm, 1.5, 590, 8)
		}, slope(0.5, 1.4)},
		{"UM", "deep marine", 1.5, 3, 33, func(nm float64) float64 { return 0.03 + hump(nm, 4.6, 605, 52) + hump(nm, 0.5, 700, 60) }, slope(0.45, 2)},
		{"FG", "kelp green", 1.3, 2, 47, func(nm float64) float64 {
			return 0.05 + hump(nm, 7.8, 650, 48) + hump(nm, 3.6, 425, 40)
		}, slope(0.3, 1.5)},
	}
}

func resinAbsorbs(nm float64) float64 { return 0.002 + edge(nm, 0.05, 418, 14) }
func resinScatters(float64) float64   { return 0.003 }

// A Bench casts and reads invented parts: light is followed through the layer by
// the exact layer model, weighing and reading err at random from a seed.
type Bench struct {
	light    *layer.Exact
	under    *color.Weights
	pigments []Pigment
	*rand.Rand
}

// NewBench sets a bench up.
func NewBench(seed uint64) (*Bench, error) {
	light, err := layer.NewExact(index)
	if err != nil {
		return nil, err
	}
	under, err := color.WeightsFor(color.D65Ten())
	return &Bench{light, under, Pigments(), rand.New(rand.NewPCG(seed, 1))}, err
}

// Read is what the instrument reads on a mixture.
func (s *Bench) Read(phr map[string]float64, thickness, backing float64) (color.Reflectance, color.Lab) {
	var k, sc, back [color.Bands]float64
	for b := range color.Bands {
		nm := float64(color.WavelengthNM(b))
		k[b], sc[b], back[b] = resinAbsorbs(nm), resinScatters(nm), backing
		for _, p := range s.pigments {
			k[b] += phr[p.Code] * p.absorbs(nm)
			sc[b] += phr[p.Code] * p.scatters(nm)
		}
	}
	var out layer.Partials
	s.light.Bands(&k, &sc, thickness, &back, color.SpecularIncluded, &out)
	var r color.Reflectance
	for b := range r {
		r[b] = math.Round(math.Max(0, out.R[b]+noise*s.NormFloat64())*1e4) / 1e4
	}
	return r, s.under.Lab(&r)
}

// Weighed is what is really in a chip's cup that the scale was read for.
func (s *Bench) Weighed(phr map[string]float64) map[string]float64 {
	codes := make([]string, 0, len(phr))
	for code := range phr {
		codes = append(codes, code)
	}
	sort.Strings(codes)
	out := map[string]float64{}
	for _, code := range codes {
		out[code] = phr[code] + (s.Float64()-0.5)*ScaleGrams*100/ChipGrams
	}
	return out
}

// Part is a file with three readings of a part of 3 mm over white.
func (s *Bench) Part(name string, phr map[string]float64) string {
	var b strings.Builder
	b.WriteString("name,L_D65,a_D65,b_D65")
	BandHeads(&b)
	b.WriteString("\n")
	for range 3 {
		r, lab := s.Read(phr, 3, 0.90)
		b.WriteString(name)
		Reading(&b, &r, lab)
		b.WriteString("\n")
	}
	return b.String()
}

// BandHeads writes the heads of a spectrum's columns.
func BandHeads(b *strings.Builder) {
	for i := range color.Bands {
		fmt.Fprintf(b, ",R%d", color.WavelengthNM(i))
	}
}

// Reading writes the cells of a reading.
func Reading(b *strings.Builder, r *color.Reflectance, lab color.Lab) {
	fmt.Fprintf(b, ",%.2f,%.2f,%.2f", lab.L, lab.A, lab.B)
	for _, v := range r {
		fmt.Fprintf(b, ",%.4f", v)
	}
}

// Stronger is what a mixture comes to when a lot of one of its pigments is
// stronger by a share.
func Stronger(phr map[string]float64, code string, share float64) map[string]float64 {
	out := map[string]float64{}
	for c, v := range phr {
		out[c] = v
	}
	out[code] *= 1 + share
	return out
}
