package layer

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack"
	"gonum.org/v1/gonum/lapack/lapack64"

	"masstone/color"
)

// Optics says in what the light travels and how finely it is followed.
type Optics struct {
	// Index is the refractive index of the resin, 1 to 3; air is 1.
	Index float64
	// Anisotropy is the mean cosine g of the scattering angle of a
	// Henyey-Greenstein phase function, -0.9 to 0.9.
	Anisotropy float64
	// Directions counts the directions in each hemisphere, an even number from
	// 4 to 64. Against 64 of them the worst of 400 layers over all that a fit
	// may visit is off by 5e-4 with 8, 3e-5 with 12, 7e-6 with 16, 6e-7 with 24,
	// 1e-7 with 32; the mean layer by a tenth to a hundredth of that.
	Directions int
	// ViewDegrees is the angle of view in air from the normal, 0 to 80.
	ViewDegrees float64
	// Gap puts a thin air gap between the layer and its backing, as under a
	// chip laid dry on a tile. Without it the two are in optical contact.
	Gap bool
}

// DiffuseEight is the d/8 instrument on a resin of refractive index n, with
// isotropic scattering and the backing in optical contact.
func DiffuseEight(n float64) Optics {
	return Optics{Index: n, Directions: 16, ViewDegrees: 8}
}

func (o Optics) check() error {
	switch {
	case !(o.Index >= 1 && o.Index <= 3):
		return fmt.Errorf("layer: refractive index %g; give 1 to 3, about 1.5 for a cast resin", o.Index)
	case !(math.Abs(o.Anisotropy) <= 0.9):
		return fmt.Errorf("layer: anisotropy %g; give -0.9 to 0.9", o.Anisotropy)
	case o.Directions < 4 || o.Directions > 64 || o.Directions%2 != 0:
		return fmt.Errorf("layer: %d directions; give an even number from 4 to 64", o.Directions)
	case !(o.ViewDegrees >= 0 && o.ViewDegrees <= 80):
		return fmt.Errorf("layer: view at %g degrees; give 0 to 80", o.ViewDegrees)
	}
	return nil
}

// Slab solves the radiative transfer equation (5) in a plane layer, each time
// anew: exact to its number of directions, and slow, some 0.04 ms with 16 of
// them, 0.25 ms with 32 and forward scattering. Its methods may be used from several goroutines.
type Slab struct {
	optics  Optics
	d       directions
	even    []float64 // D sum (2l+1) chi_l P_l P_l' D over even l, n x n
	odd     []float64 // the same over odd l; nil for isotropic scattering
	forward float64   // share of the scattered light that counts as not scattered
}

// NewSlab prepares the directions and the scattering between them.
func NewSlab(o Optics) (*Slab, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	s := &Slab{optics: o, d: newDirections(o.Index, math.Cos(o.ViewDegrees*math.Pi/180), o.Directions)}
	s.redistribute()
	return s, nil
}

// mirror is the share of light along the view direction that the surface
// reflects from outside, the same as from inside.
func (s *Slab) mirror() float64 { return s.d.surface[s.d.view] }

// redistribute fills the matrices of the phase function from its Legendre
// moments, chi_l = g^l. Moments beyond those that the directions tell apart go
// into a forward peak (delta-M: Wiscombe, J. Atmos. Sci. 34, 1408 (1977)). What
// the quadrature then loses or gains of the energy goes to the diagonal.
func (s *Slab) redistribute() {
	n, g := len(s.d.mu), s.optics.Anisotropy
	moments := 1
	if g != 0 {
		moments = s.optics.Directions
		s.odd = make([]float64, n*n)
		s.forward = math.Pow(g, float64(moments))
	}
	s.even = make([]float64, n*n)
	p, next := make([]float64, n), make([]float64, n) // P_l and P_l+1, times the root of the weight
	for i, mu := range s.d.mu {
		p[i], next[i] = s.d.root[i], mu*s.d.root[i]
	}
	chi := 1.0
	for l := range moments {
		to := s.even
		if l%2 == 1 {
			to = s.odd
		}
		c := float64(2*l+1) * (chi - s.forward) / (1 - s.forward)
		for i := range p {
			for j := range p {
				to[i*n+j] += c * p[i] * p[j]
			}
		}
		for i, mu := range s.d.mu {
			p[i], next[i] = next[i], (float64(2*l+3)*mu*next[i]-float64(l+1)*p[i])/float64(l+2)
		}
		chi *= g
	}
	for i, root := range s.d.root {
		s.even[i*n+i] += 1 - floats.Dot(s.even[i*n:(i+1)*n], s.d.root)/root
	}
}

// Response is all that a Lambertian backing asks of a layer; each is a share of
// light, 0..1.
type Response struct {
	Mirror float64 // light along the view direction that the surface mirrors
	Black  float64 // reflectance factor over a black backing, without Mirror
	In     float64 // light along the view direction that arrives at the backing
	Out    float64 // diffuse light from the backing that leaves by the surface
	Under  float64 // diffuse light from the backing that comes back to it
}

// Over is the reflectance factor over a backing of reflectance factor 0..1,
// without the mirror reflection: (8).
func (r Response) Over(backing float64) float64 {
	backing = within(backing, 1)
	if backing*r.Under >= 1 { // to the last digit nothing passes the layer
		return r.Black
	}
	return r.Black + r.In*r.Out*backing/(1-backing*r.Under)
}

// Reflectance is the measured reflectance factor for Kubelka-Munk coefficients
// k and s per mm by (7), units and limits as for Layer.
func (s *Slab) Reflectance(k, scattering, thicknessMM, backing float64, specular color.Specular) float64 {
	r := s.Response(notNegative(k)/2, notNegative(scattering)*4/3, thicknessMM)
	if specular == color.SpecularExcluded {
		return r.Over(backing)
	}
	return r.Mirror + r.Over(backing)
}

// Response solves a layer of an absorption coefficient mu_a and a reduced
// scattering coefficient mu_s' per mm, both at least 0, and a thickness in mm,
// at least 0.
func (s *Slab) Response(absorption, reduced, thicknessMM float64) Response {
	scattering := reduced / (1 - s.optics.Anisotropy) * (1 - s.forward)
	total := absorption + scattering
	depth := total * within(thicknessMM, thickest)
	if !(depth > thin) {
		// What is trapped between the surface and a gap has to get lost somehow.
		return s.solve(0, thin)
	}
	return s.solve(scattering/total, depth)
}

// thin is the optical depth that stands for none.
const thin = 1e-9

// solve is the discrete-ordinate solution of (5) for an albedo and an optical
// depth that leave the forward peak out. With sum = I+ + I- and dif = I+ - I-,
// each times the root of its weight, and M the cosines, (5) reads
//
//	M d(sum)/dx = -A dif, M d(dif)/dx = -B sum
//	A = 1 - albedo odd, B = 1 - albedo even
//
// and with A = L L', sum = M^-1 L f the second derivative of f is H f, where
// H = L' M^-1 B M^-1 L is symmetric and never negative. Its eigenvectors Q, of
// eigenvalues k^2, make a sound basis at every albedo, 1 included (after
// Stamnes, Tsay, Wiscombe and Jayaweera, Appl. Opt. 27, 2502 (1988)).
func (s *Slab) solve(albedo, depth float64) Response {
	n := len(s.d.mu)
	square := func(a []float64) blas64.General {
		return blas64.General{Rows: n, Cols: n, Stride: n, Data: a}
	}
	sum := make([]float64, n*n) // H, then Q, then M^-1 L Q
	for i, mu := range s.d.mu {
		for j, other := range s.d.mu {
			sum[i*n+j] = -albedo * s.even[i*n+j] / (mu * other)
		}
		sum[i*n+i] += 1 / (mu * mu)
	}
	var l blas64.Triangular
	if s.odd != nil {
		a := make([]float64, n*n)
		floats.AddScaled(a, -albedo, s.odd)
		for i := range n {
			a[i*n+i]++
		}
		// A is positive definite: its eigenvalues are about 1 - albedo g^l.
		l, _ = lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: a, Uplo: blas.Lower})
		blas64.Trmm(blas.Left, blas.Trans, 1, l, square(sum))
		blas64.Trmm(blas.Right, blas.NoTrans, 1, l, square(sum))
	}
	k2, work := make([]float64, n), make([]float64, 34*n)
	lapack64.Syev(lapack.EVCompute, blas64.Symmetric{N: n, Stride: n, Data: sum, Uplo: blas.Lower}, k2, work, len(work))
	dif := append([]float64(nil), sum...) // L'^-1 Q
	if s.odd != nil {
		blas64.Trmm(blas.Left, blas.NoTrans, 1, l, square(sum))
		blas64.Trsm(blas.Left, blas.Trans, 1, l, square(dif))
	}
	for i, mu := range s.d.mu {
		floats.Scale(1/mu, sum[i*n:(i+1)*n])
	}
	// Where little is absorbed the smallest eigenvalue is a small difference of
	// large numbers. Its Rayleigh quotient in B is not.
	k2[0] = 0
	for i := range n {
		scattered := 0.0
		for j := range n {
			scattered += s.even[i*n+j] * sum[j*n]
		}
		k2[0] += sum[i*n] * (sum[i*n] - albedo*scattered)
	}
	return s.bound(sum, dif, k2, depth)
}

// bound weights the shapes so that the light at both boundaries is what the
// surface, the gap if there is one, and the sources make it, and reads off the
// response. Over t from the middle of the layer every f goes as cosh(k t) and as
// sinh(k t)/k, both divided by cosh(k depth/2) so that neither overflows, and
// sum goes as f, dif as minus its derivative.
func (s *Slab) bound(sum, dif, k2 []float64, depth float64) Response {
	n, m := len(k2), 2*len(k2)
	system := make([]float64, m*m) // light into the layer, at the top and at the bottom
	away := make([]float64, n*m)   // light out of it at the bottom; at the top with the odd half reversed
	for j, k2 := range k2 {
		k := math.Sqrt(max(0, k2))
		tanh := math.Tanh(k * depth / 2)
		perK := depth / 2 // tanh / k
		if k*depth > 1e-4 {
			perK = tanh / k
		}
		even, odd := j, n+j
		for i, f := range s.d.surface {
			u, v := sum[i*n+j]/2, dif[i*n+j]/2
			in, out := u+v*k*tanh, u-v*k*tanh
			inOdd, outOdd := u*perK+v, u*perK-v
			away[i*m+even], away[i*m+odd] = out, outOdd
			system[i*m+even], system[i*m+odd] = in-f*out, f*outOdd-inOdd
			if !s.optics.Gap {
				f = 0
			}
			system[(n+i)*m+even], system[(n+i)*m+odd] = in-f*out, inOdd-f*outOdd
		}
	}
	// Two sources of diffuse light of unit radiance, above and below.
	n2 := s.optics.Index * s.optics.Index
	x := make([]float64, 2*m)
	outside := 1.0 // what the surface reflects of such light from the air
	for i, f := range s.d.surface {
		entering := s.d.root[i] * n2 * (1 - f)
		outside -= s.d.flux(i) * entering
		x[2*i] = entering
		x[2*(n+i)+1] = s.d.root[i]
		if s.optics.Gap {
			x[2*(n+i)+1] = entering
		}
	}
	lu, pivots := blas64.General{Rows: m, Cols: m, Stride: m, Data: system}, make([]int, m)
	lapack64.Getrf(lu, pivots)
	lapack64.Getrs(blas.NoTrans, lu, blas64.General{Rows: m, Cols: 2, Stride: 2, Data: x}, pivots)

	const above, below = 0, 1
	leaving := func(i, source int, oddSign float64) (light float64) {
		for j := range n {
			light += away[i*m+j]*x[2*j+source] + oddSign*away[i*m+n+j]*x[2*(n+j)+source]
		}
		return light
	}
	top := func(i, source int) float64 { return leaving(i, source, -1) }
	bottom := func(i, source int) float64 { return leaving(i, source, 1) }

	view := s.d.view
	seen := (1 - s.d.surface[view]) / s.d.root[view]
	r := Response{
		Mirror: s.mirror(),
		Black:  seen * top(view, above) / n2,
		// What diffuse light from below sends along the view direction is what
		// light along it would bring down, by reciprocity.
		In: seen * top(view, below),
	}
	if s.optics.Gap {
		r.In /= n2
		r.Under = outside
	}
	for i, f := range s.d.surface {
		r.Out += s.d.flux(i) * (1 - f) * top(i, below)
		if !s.optics.Gap {
			f = 0
		}
		r.Under += s.d.flux(i) * (1 - f) * bottom(i, below)
	}
	return r
}
