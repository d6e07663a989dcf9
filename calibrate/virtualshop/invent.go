package virtualshop

import (
	"fmt"
	"math"
	"math/rand/v2"

	"masstone/color"
)

// A kind is what pigments of one hue have in common: where they absorb, how
// strongly for the shop's level, and how much they scatter.
type kind struct {
	code     string
	edges    []feature // absorb everything below, with an exponential tail above
	bands    []feature // absorb around, Gaussian
	strength [2]float64
	scatter  [2]float64
}

// A feature stands at nm, has a width in nm and a height relative to the
// strength.
type feature struct{ nm, width, height float64 }

// kinds are invented after what paste makers' shelves hold: transparent organics,
// a few hiding oxides. Strength and scatter are per mm at the level.
var kinds = [...]kind{
	{"YE", []feature{{490, 7, 1}}, nil, [2]float64{4, 14}, [2]float64{0.3, 1.5}},
	{"RD", []feature{{592, 7, 1}}, nil, [2]float64{3, 9}, [2]float64{0.3, 1.5}},
	{"BL", nil, []feature{{615, 38, 0.8}, {690, 32, 1}, {390, 22, 0.08}}, [2]float64{10, 40}, [2]float64{0.05, 0.3}},
	{"GN", []feature{{430, 12, 0.35}}, []feature{{650, 40, 1}}, [2]float64{8, 25}, [2]float64{0.05, 0.3}},
	{"MG", nil, []feature{{535, 27, 1}, {570, 14, 0.4}, {400, 40, 0.08}}, [2]float64{3, 10}, [2]float64{0.1, 0.6}},
	{"OX", []feature{{575, 17, 1}}, nil, [2]float64{2, 6}, [2]float64{0.8, 2.5}},
	{"UB", nil, []feature{{590, 42, 1}, {640, 40, 0.4}}, [2]float64{2, 5}, [2]float64{0.03, 0.12}},
	{"VI", []feature{{405, 15, 0.06}}, []feature{{540, 32, 1}, {600, 20, 0.5}}, [2]float64{8, 25}, [2]float64{0.1, 0.5}},
	{"OR", []feature{{556, 7, 1}}, nil, [2]float64{3, 10}, [2]float64{0.3, 1.5}},
	{"OC", []feature{{525, 16, 1}}, []feature{{650, 60, 0.03}}, [2]float64{1.5, 4}, [2]float64{0.8, 2.5}},
}

// invent fills the resin and the pigments: a white, a black, and the kinds in
// turn, numbered from their second round.
func (s *Shop) invent(rng *rand.Rand, pigments int) {
	level := float64(s.Level)
	between := func(r [2]float64) float64 { return r[0] * math.Exp(rng.Float64()*math.Log(r[1]/r[0])) }

	// clear, a little amber and a little hazy
	amber, haze := between([2]float64{0.005, 0.02}), between([2]float64{0.01, 0.08})
	tail := between([2]float64{0.03, 0.12})
	s.Resin = curve(func(nm float64) (k, sc float64) {
		return amber + tail*math.Exp((400-nm)/45), haze * math.Pow(nm/550, -1)
	})

	s.Codes = []string{White, Black}
	hiding, edge, dirt := between([2]float64{4, 8}), 395+10*rng.Float64(), between([2]float64{2e-4, 1e-3})
	s.Pigments = append(s.Pigments, curve(func(nm float64) (k, sc float64) {
		return (dirt + 0.6/(1+math.Exp((nm-edge)/5))) / level, hiding * math.Pow(nm/550, -0.3) / level
	}))
	jet, cast, soot := between([2]float64{1, 4}), -0.8+1.2*rng.Float64(), between([2]float64{0.05, 0.2})
	s.Pigments = append(s.Pigments, curve(func(nm float64) (k, sc float64) {
		return jet * math.Pow(nm/550, cast) / level, soot * math.Pow(nm/550, cast) / level
	}))
	for i := range pigments - 2 {
		k := kinds[i%len(kinds)]
		code := k.code
		if round := i / len(kinds); round > 0 {
			code = fmt.Sprintf("%s%d", code, round+1)
		}
		s.Codes = append(s.Codes, code)
		s.Pigments = append(s.Pigments, k.draw(rng, between(k.strength)/level, between(k.scatter)/level))
	}
}

// draw makes one pigment of a kind: its features a little elsewhere, the clear
// part two and a half to three and a half decades below the peak, both curves
// with a slow wave of their own, and scattering stronger on the long side of an
// absorption, where the refractive index of the pigment runs high.
func (k kind) draw(rng *rand.Rand, strength, scatter float64) Curve {
	jitter := func(f []feature) []feature {
		out := append([]feature(nil), f...)
		for i := range out {
			out[i].nm += 8 * rng.NormFloat64()
			out[i].width *= math.Exp(0.15 * rng.NormFloat64())
			out[i].height *= math.Exp(0.2 * rng.NormFloat64())
		}
		return out
	}
	edges, bands := jitter(k.edges), jitter(k.bands)
	floor := math.Pow(10, -2.5-rng.Float64())
	waveK, waveS := wave(rng, 0.15), wave(rng, 0.08)
	slope, anomaly := 1.5*rng.Float64(), 2.5*rng.Float64()
	shape := func(nm float64) float64 {
		sum := floor
		for _, e := range edges {
			sum += e.height / (1 + math.Exp((nm-e.nm)/e.width))
		}
		for _, b := range bands {
			d := (nm - b.nm) / b.width
			sum += b.height * math.Exp(-d*d/2)
		}
		return sum
	}
	return curve(func(nm float64) (kk, ss float64) {
		kk = strength * shape(nm) * math.Exp(waveK(nm))
		ss = scatter * math.Pow(nm/550, -slope) * (1 + anomaly*min(shape(nm-20), 1)) * math.Exp(waveS(nm))
		return kk, ss
	})
}

// wave is a slow random function of wavelength with standard deviation sd.
func wave(rng *rand.Rand, sd float64) func(nm float64) float64 {
	var size, phase [3]float64
	for i := range size {
		size[i] = sd * math.Sqrt(2./3) * rng.NormFloat64()
		phase[i] = 2 * math.Pi * rng.Float64()
	}
	return func(nm float64) (sum float64) {
		for i := range size {
			sum += size[i] * math.Cos(2*math.Pi*(nm-400)/(400/float64(i+1))+phase[i])
		}
		return sum
	}
}

func curve(f func(nm float64) (k, s float64)) (c Curve) {
	for b := range color.Bands {
		c.K[b], c.S[b] = f(float64(color.WavelengthNM(b)))
	}
	return c
}
