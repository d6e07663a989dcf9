package layer

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
)

// directions is a quadrature over one hemisphere inside the resin, and what the
// surface does to each of its directions. The cosines rise, which keeps the
// solution exact to the last digits where nothing is absorbed: the large terms
// of the grazing directions come first.
type directions struct {
	mu      []float64 // cosine to the normal
	root    []float64 // square root of the weight; the weights sum to 1
	surface []float64 // Fresnel reflectance from inside
	view    int       // which of them is the view direction
}

// viewWeight lets the view direction take part in the system of equations
// without a say in it.
const viewWeight = 1e-10

// newDirections places count directions, half of them beyond the critical angle
// of a resin of index n and half in the cone that leaves it, and among them the
// view direction, refracted from cosine view outside. Beyond the critical angle
// the Gauss points are taken in the root of the cosine, which crowds the grazing
// light that a thin layer hangs on; in the cone in the cosine outside, where the
// Fresnel reflectance is smooth up to grazing.
func newDirections(n, view float64, count int) directions {
	critical, cone := math.Sqrt(1-1/(n*n)), count/2
	if n == 1 {
		critical, cone = 1, 0 // no cone; nothing is refracted
	}
	mu, w := gauss(count - cone)
	for i, root := range mu {
		mu[i] = critical * root * root
		w[i] *= root // d(mu) = 2 critical root d(root)
	}
	scale(w, critical)
	if cone > 0 {
		leaving, weights := gauss(cone)
		for i, outside := range leaving {
			leaving[i] = refracted(n, outside)
			weights[i] *= outside / leaving[i] // d(mu) = outside d(outside) / (n^2 mu)
		}
		scale(weights, 1-critical)
		mu, w = append(mu, leaving...), append(w, weights...)
	}

	seen := refracted(n, view)
	at, _ := slices.BinarySearch(mu, seen)
	d := directions{mu: slices.Insert(mu, at, seen), view: at}
	for _, w := range slices.Insert(w, at, viewWeight) {
		d.root = append(d.root, math.Sqrt(w))
	}
	for _, mu := range d.mu {
		d.surface = append(d.surface, fresnel(n, mu))
	}
	return d
}

// scale makes the weights sum to total.
func scale(w []float64, total float64) {
	floats.Scale(total/floats.Sum(w), w)
}

// gauss returns the Gauss-Legendre points and weights on 0..1, points rising.
func gauss(count int) (x, w []float64) {
	x, w = make([]float64, count), make([]float64, count)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	slices.Reverse(x)
	slices.Reverse(w)
	if w[0] == 0 {
		// gonum 0.17 leaves out the outermost weights of the rule of 26. They
		// are alike, and all sum to 1.
		w[0] = (1 - floats.Sum(w)) / 2
		w[count-1] = w[0]
	}
	return x, w
}

// flux is the share of direction i in the flux of a hemisphere, for a radiance
// that, like all of them here, comes multiplied by the root of its weight.
func (d *directions) flux(i int) float64 {
	if i == d.view {
		return 0
	}
	return 2 * d.mu[i] * d.root[i]
}
