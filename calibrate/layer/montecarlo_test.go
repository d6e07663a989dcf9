package layer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
	"masstone/color"
)

// photons is a second opinion that shares nothing with the package: light goes
// the other way round, from 8 degrees in to all directions out, packet by packet
// (after Prahl 1989; Wang, Jacques and Zheng 1995). It returns the mean
// reflectance without the mirror reflection and its standard error.
type photons struct {
	n, g              float64 // refractive index, mean cosine
	absorb, scatter   float64 // mu_a, mu_s per mm
	thickness, backed float64 // mm, reflectance factor of the backing
	gap               bool
	seed              uint64
}

func (p photons) reflectance(count int) (mean, standardError float64) {
	r := rand.New(rand.NewPCG(p.seed, 8))
	var sum, squares float64
	for range count {
		w := p.packet(r)
		sum += w
		squares += w * w
	}
	n := float64(count)
	mean = sum / n
	return mean, math.Sqrt((squares/n - mean*mean) / n)
}

// mirrored is Fresnel's reflectance going from index n1 to n2, and the cosine
// beyond; 1 and 0 where all is reflected.
func mirrored(n1, n2, cos float64) (reflected, beyond float64) {
	sin := n1 / n2 * math.Sqrt(1-cos*cos)
	if sin >= 1 {
		return 1, 0
	}
	beyond = math.Sqrt(1 - sin*sin)
	s := (n1*cos - n2*beyond) / (n1*cos + n2*beyond)
	q := (n1*beyond - n2*cos) / (n1*beyond + n2*cos)
	return (s*s + q*q) / 2, beyond
}

// packet follows one packet and returns the weight that leaves by the surface.
func (p photons) packet(r *rand.Rand) float64 {
	total := p.absorb + p.scatter
	albedo := p.scatter / total
	reflected, mu := mirrored(1, p.n, math.Cos(8*math.Pi/180))
	weight, z, left := 1-reflected, 0.0, 0.0 // mu is the cosine downwards
	for {
		z += mu * r.ExpFloat64() / total
		for z < 0 || z > p.thickness {
			// The path that is left beyond the boundary goes on from it; being
			// exponential it may as well be drawn anew.
			if z < 0 {
				reflected, _ := mirrored(p.n, 1, -mu)
				left += weight * (1 - reflected)
				weight *= reflected
				z, mu = 0, -mu
			} else {
				z = p.thickness
				mu = -p.underneath(r, mu, &weight)
			}
			if weight < 1e-6 {
				return left
			}
			z += mu * r.ExpFloat64() / total
		}
		weight *= albedo
		if weight < 0.01 { // roulette
			if r.Float64() > 0.1 {
				return left
			}
			weight *= 10
		}
		mu = p.turn(r, mu)
	}
}

// underneath returns the cosine upwards of what comes back from below.
func (p photons) underneath(r *rand.Rand, mu float64, weight *float64) float64 {
	if !p.gap {
		*weight *= p.backed
		return math.Sqrt(r.Float64()) // Lambertian
	}
	reflected, _ := mirrored(p.n, 1, mu)
	if r.Float64() < reflected {
		return mu
	}
	for {
		*weight *= p.backed
		out := math.Sqrt(r.Float64())
		reflected, inside := mirrored(1, p.n, out)
		if r.Float64() >= reflected || *weight < 1e-6 {
			return inside
		}
	}
}

// turn draws a Henyey-Greenstein scattering angle.
func (p photons) turn(r *rand.Rand, mu float64) float64 {
	cos := 2*r.Float64() - 1
	if p.g == 0 {
		return cos
	}
	f := (1 - p.g*p.g) / (1 + p.g*cos)
	cos = (1 + p.g*p.g - f*f) / (2 * p.g)
	around := math.Cos(2 * math.Pi * r.Float64())
	return mu*cos + math.Sqrt(max(0, (1-mu*mu)*(1-cos*cos)))*around
}

// Finite layers over Lambertian backings: the direct solution and, where it
// applies, the table within four standard errors, of at most 1e-3 each.
func TestAgainstPhotons(t *testing.T) {
	for i, c := range []struct {
		n, g, k, s, x, backing float64
		gap                    bool
	}{
		{1.5, 0, 0.05, 1, 2, 0.8, false},     // translucent white on white
		{1.5, 0, 0.02, 0.05, 3, 0.85, false}, // almost clear
		{1.5, 0, 1, 2, 1, 0.05, false},       // coloured on black
		{1.5, 0, 0.3, 3, 0.3, 0.5, false},    // thin
		{1.47, 0.6, 0.1, 1.5, 2, 0.8, false},
		{1.5, 0, 0.05, 0.5, 2, 0.05, true}, // laid dry on black
		{1.5, 0.6, 0.2, 0.5, 1, 0.9, true}, // and on white
	} {
		t.Run(fmt.Sprintf("%+v", c), func(t *testing.T) {
			count := 150_000
			if testing.Short() {
				count = 20_000
			}
			p := photons{
				n: c.n, g: c.g, absorb: c.k / 2, scatter: c.s * 4 / 3 / (1 - c.g), // (7), (9)
				thickness: c.x, backed: c.backing, gap: c.gap, seed: uint64(i + 1),
			}
			mean, sigma := p.reflectance(count)
			o := layer.Optics{Index: c.n, Anisotropy: c.g, Directions: 32, ViewDegrees: 8, Gap: c.gap}
			direct := slab(t, o).Reflectance(c.k, c.s, c.x, c.backing, color.SpecularExcluded)
			t.Logf("photons %.5f, standard error %.5f; direct %.5f, off by %+.1f standard errors", mean, sigma, direct, (direct-mean)/sigma)
			if !testing.Short() {
				require.LessOrEqual(t, sigma, 1e-3)
			}
			require.InDelta(t, mean, direct, 4*sigma)
			if c.n == 1.5 && c.g == 0 && !c.gap {
				require.InDelta(t, mean, one(exact15(), c.k, c.s, c.x, c.backing, color.SpecularExcluded).r, 4*sigma)
			}
		})
	}
}
