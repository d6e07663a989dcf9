package layer

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack"
	"gonum.org/v1/gonum/lapack/lapack64"

	"masstone/color"
)

// Optics says in what light travels and how finely it is followed.
type Optics struct {
	// Index is the refractive index of the resin, 1 to 3; air is 1.
	Index float64
	// Anisotropy is the mean cosine g of the scattering angle of a
	// Henyey-Greenstein phase function, -0.95 to 0.95. The scattering
	// coefficient follows from the reduced one, mu_s = mu_s'/(1 - g).
	Anisotropy float64
	// Directions counts the directions in each hemisphere, an even number from
	// 4 to 128. 16 bring every reflectance within about 1e-6 for g = 0.
	Directions int
	// ViewDegrees is the angle of view in air from the normal, 0 to 89.
	ViewDegrees float64
	// Gap puts a thin air gap between the layer and its backing, as under a
	// chip laid on a tile. Without it the two are in optical contact.
	Gap bool
}

// DiffuseEight is the d/8 instrument on a resin of refractive index n, reduced
// isotropic scattering, backing in optical contact.
func DiffuseEight(n float64) Optics {
	return Optics{Index: n, Directions: 20, ViewDegrees: 8}
}

func (o Optics) check() error {
	switch {
	case !(o.Index >= 1 && o.Index <= 3):
		return fmt.Errorf("layer optics: refractive index %g; give 1 to 3, about 1.5 for a cast resin", o.Index)
	case !(math.Abs(o.Anisotropy) <= 0.95):
		return fmt.Errorf("layer optics: anisotropy %g; give -0.95 to 0.95", o.Anisotropy)
	case o.Directions < 4 || o.Directions > 128 || o.Directions%2 != 0:
		return fmt.Errorf("layer optics: %d directions; give an even number from 4 to 128", o.Directions)
	case !(o.ViewDegrees >= 0 && o.ViewDegrees <= 89):
		return fmt.Errorf("layer optics: view at %g degrees; give 0 to 89", o.ViewDegrees)
	}
	return nil
}

// Slab solves the radiative transfer equation (5) in a plane layer, each time
// anew: exact to its number of directions, and slow. Its methods may be used
// from several goroutines.
type Slab struct {
	optics  Optics
	d       directions
	even    []float64 // D sum (2l+1) chi_l P_l P_l' D over even l, n x n
	odd     []float64 // the same over odd l; nil for isotropic scattering
	forward float64   // share of the scattered light that counts as not scattered
	outside float64   // diffuse reflectance of the surface from the air side
}

// NewSlab prepares the directions and the scattering between them.
func NewSlab(o Optics) (*Slab, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	s := &Slab{optics: o, d: newDirections(o.Index, math.Cos(o.ViewDegrees*math.Pi/180), o.Directions)}
	s.redistribute()
	s.outside = 1
	for i := range s.d.mu {
		s.outside -= s.d.flux(i) * s.d.root[i] * o.Index * o.Index * (1 - s.d.surface[i])
	}
	return s, nil
}

// redistribute fills the phase function's matrices from its Legendre moments,
// chi_l = g^l. The half ranges integrate polynomials up to degree count - 1
// exactly, so that many moments keep the energy; what is beyond goes into a
// forward peak (delta-M: Wiscombe 1977).
func (s *Slab) redistribute() {
	n, g := len(s.d.mu), s.optics.Anisotropy
	moments := 1
	if g != 0 {
		moments = s.optics.Directions
		s.odd = make([]float64, n*n)
		s.forward = math.Pow(g, float64(moments))
	}
	s.even = make([]float64, n*n)
	p, next := make([]float64, n), make([]float64, n)
	for i, mu := range s.d.mu {
		p[i], next[i] = 1, mu
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
				to[i*n+j] += c * p[i] * s.d.root[i] * p[j] * s.d.root[j]
			}
		}
		for i, mu := range s.d.mu {
			p[i], next[i] = next[i], (float64(2*l+3)*mu*next[i]-float64(l+1)*p[i])/float64(l+2)
		}
		chi *= g
	}
	for i := range n {
		scattered := 0.0
		for j := range n {
			scattered += s.even[i*n+j] * s.d.root[j]
		}
		s.even[i*n+i] += (s.d.root[i] - scattered) / s.d.root[i]
	}
}

// Response is all that a Lambertian backing needs to know of a layer; each is a
// share of light, 0..1.
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
	if backing = within(backing, 1); backing == 1 && r.Under >= 1 {
		return r.Black
	}
	return r.Black + r.In*r.Out*backing/(1-backing*r.Under)
}

// Reflectance is the measured reflectance factor for Kubelka-Munk coefficients
// K and S per mm by (7), units and limits as for Layer.
func (s *Slab) Reflectance(k, scatter, thicknessMM, backing float64, specular color.Specular) float64 {
	r := s.Response(notNegative(k)/2, notNegative(scatter)*4/3, thicknessMM)
	if specular == color.SpecularExcluded {
		return r.Over(backing)
	}
	return r.Mirror + r.Over(backing)
}

// Response solves the layer for an absorption and a reduced scattering
// coefficient per mm, both at least 0, and a thickness in mm, at least 0.
func (s *Slab) Response(absorption, reduced, thicknessMM float64) Response {
	scattering := reduced / (1 - s.optics.Anisotropy) * (1 - s.forward) // (9)
	total := absorption + scattering
	if total == 0 || thicknessMM <= 0 {
		return s.solve(0, 0)
	}
	return s.solve(scattering/total, total*min(thicknessMM, thickest))
}

// solve is the discrete-ordinate solution of (5) for albedo and optical depth
// after the forward peak is taken out. With s = I+ + I- and d = I+ - I-, each
// times the root of its weight, (5) reads
//
//	M s' = -A d, M d' = -B s, A = 1 - albedo odd, B = 1 - albedo even
//
// and with A = L L', s = M^-1 L v it is v” = H v, H = L' M^-1 B M^-1 L, which is
// symmetric and never negative: its eigenvectors Q with v_j” = k_j^2 v_j make a
// well-conditioned basis at every albedo, 1 included (after Stamnes, Tsay,
// Wiscombe and Jayaweera, Appl. Opt. 27, 2502 (1988)).
func (s *Slab) solve(albedo, depth float64) Response {
	n := len(s.d.mu)
	side := func(a []float64) blas64.General {
		return blas64.General{Rows: n, Cols: n, Stride: n, Data: a}
	}
	u := make([]float64, n*n) // H, then Q, then M^-1 L Q: the shapes of s
	for i := range n {
		for j := range n {
			b := -albedo * s.even[i*n+j]
			if i == j {
				b++
			}
			u[i*n+j] = b / (s.d.mu[i] * s.d.mu[j])
		}
	}
	var l blas64.Triangular
	if s.odd != nil {
		a := make([]float64, n*n)
		for i := range a {
			a[i] = -albedo * s.odd[i]
		}
		for i := range n {
			a[i*n+i]++
		}
		// A is positive definite for |g| < 1: its eigenvalues are 1 - albedo g^l.
		l, _ = lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: a, Uplo: blas.Lower})
		blas64.Trmm(blas.Left, blas.Trans, 1, l, side(u))
		blas64.Trmm(blas.Right, blas.NoTrans, 1, l, side(u))
	}
	k2 := make([]float64, n)
	work := make([]float64, 34*n)
	lapack64.Syev(lapack.EVCompute, blas64.Symmetric{N: n, Stride: n, Data: u, Uplo: blas.Lower}, k2, work, len(work))
	v := append([]float64(nil), u...) // L'^-1 Q: the shapes of -d, once differentiated
	if s.odd != nil {
		blas64.Trmm(blas.Left, blas.NoTrans, 1, l, side(u))
		blas64.Trsm(blas.Left, blas.Trans, 1, l, side(v))
	}
	for i, mu := range s.d.mu {
		for j := range n {
			u[i*n+j] /= mu
		}
	}
	// rayleigh
	k2[0] = 0
	for i := range n {
		sum := 0.0
		for j := range n {
			sum += s.even[i*n+j] * u[j*n]
		}
		k2[0] += u[i*n] * (u[i*n] - albedo*sum)
	}
	return s.bound(u, v, k2, depth)
}

// bound weights the shapes so that the light at both boundaries is what the
// surface, and the gap if there is one, and the sources make it, and reads off
// the response. About the middle of the layer, t from -depth/2 to depth/2, each
// shape goes as cosh(k t) and as sinh(k t)/k, both over cosh(k depth/2), so that
// neither overflows nor vanishes.
func (s *Slab) bound(u, v, k2 []float64, depth float64) Response {
	n := len(k2)
	m := 2 * n
	system := make([]float64, m*m) // rows: downwards at the top, upwards at the bottom
	away := make([]float64, n*m)   // upwards at the top; downwards at the bottom with the odd half turned
	for j, k2 := range k2 {
		k := math.Sqrt(max(0, k2))
		tanh := math.Tanh(k * depth / 2)
		over := depth / 2 // tanh / k
		if k*depth > 1e-4 {
			over = tanh / k
		}
		scale := max(1, k)
		for i, f := range s.d.surface {
			// light towards a boundary and from it, even and odd shapes
			in, out := (u[i*n+j]+v[i*n+j]*k*tanh)/2, (u[i*n+j]-v[i*n+j]*k*tanh)/2
			inOdd, outOdd := scale*(u[i*n+j]*over+v[i*n+j])/2, scale*(u[i*n+j]*over-v[i*n+j])/2
			away[i*m+j], away[i*m+n+j] = out, outOdd
			system[i*m+j], system[i*m+n+j] = in-f*out, f*outOdd-inOdd
			if !s.optics.Gap {
				f = 0
			}
			system[(n+i)*m+j], system[(n+i)*m+n+j] = in-f*out, inOdd-f*outOdd
		}
	}
	// Two sources, diffuse light of unit radiance from above and from below.
	n2 := s.optics.Index * s.optics.Index
	x := make([]float64, 2*m)
	for i, f := range s.d.surface {
		x[2*i] = s.d.root[i] * n2 * (1 - f)
		x[2*(n+i)+1] = s.d.root[i]
		if s.optics.Gap {
			x[2*(n+i)+1] = s.d.root[i] * n2 * (1 - f)
		}
	}
	a := blas64.General{Rows: m, Cols: m, Stride: m, Data: system}
	pivots := make([]int, m)
	lapack64.Getrf(a, pivots)
	lapack64.Getrs(blas.NoTrans, a, blas64.General{Rows: m, Cols: 2, Stride: 2, Data: x}, pivots)

	up := func(i, source int) (sum float64) { // at the top
		for j := range n {
			sum += away[i*m+j]*x[2*j+source] - away[i*m+n+j]*x[2*(n+j)+source]
		}
		return
	}
	down := func(i, source int) (sum float64) { // at the bottom
		for j := range n {
			sum += away[i*m+j]*x[2*j+source] + away[i*m+n+j]*x[2*(n+j)+source]
		}
		return
	}
	view := (1 - s.d.surface[s.d.view]) / s.d.root[s.d.view]
	r := Response{
		Mirror: s.d.surface[s.d.view],
		Black:  view * up(s.d.view, 0) / n2,
		// What a diffuse source below sends into the view direction is what
		// light along it would bring down, by reciprocity.
		In: view * up(s.d.view, 1),
	}
	if s.optics.Gap {
		r.In /= n2
		r.Under = s.outside
	}
	for i, f := range s.d.surface {
		r.Out += s.d.flux(i) * (1 - f) * up(i, 1)
		if !s.optics.Gap {
			f = 0
		}
		r.Under += s.d.flux(i) * (1 - f) * down(i, 1)
	}
	return r
}
