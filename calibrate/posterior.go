package calibrate

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// A posterior is what the fit does not know, kept compactly. The error of
// ln K and ln S of curve q (62 numbers) is Basis[q]' z_q: the few directions
// in which the evidence leaves the curve uncertain and a colour would show it.
// The z of all curves, and of k1 and k2 after them, have covariance Cov.
type posterior struct {
	Rank  []int   // directions per curve: the resin, the pigments, the surface
	Basis floats  // per curve, Rank rows of 62 (ln K, then ln S); 2 x 2 for the surface
	Cov   floats  // packed upper rows of the covariance of all z
	Kept  float64 // share of the colour variance the directions keep
	// Law is how many z are of the law of mixing: an exponent per pigment, the
	// crowding, the light lost; they stand after those of the surface.
	Law int `json:",omitempty"`
	// Discrepancy is set in the posterior of one target: its z stand last in Cov.
	Discrepancy *discrepancy `json:"Departure,omitempty"`
}

const perCurve = 2 * color.Bands

// maxRank bounds the directions kept per curve.
const maxRank = 20

// compact condenses the posterior at x, where sys is factored.
func (p *problem) compact(x state, sys *system) (*posterior, error) {
	surface := 0
	if p.k1 >= 0 {
		surface = 2
	}
	_, law := p.law(x)
	n := p.curves*perCurve + surface + len(law)
	all := sys.Full()
	of := make([]int, 0, n)
	for q := range p.curves {
		for b := range perCurve {
			of = append(of, p.start[q]+b)
		}
	}
	unit := make([]float64, n)
	for i := range unit {
		unit[i] = 1
	}
	if surface > 0 {
		of = append(of, p.k1, p.k2)
		unit[len(of)-2], unit[len(of)-1] = p.surface.K1SD, p.surface.K2SD
	}
	of = append(of, law...)
	full := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			full.SetSym(i, k, unit[i]*unit[k]*all.At(of[i], of[k]))
		}
	}

	show := p.shows(x)
	post := &posterior{}
	var rows []*mat.Dense // per curve: z = rows * error, Rank x 62
	var kept, counted float64
	for q := range p.curves {
		block := mat.NewSymDense(perCurve, nil)
		for a := range perCurve {
			for b := a; b < perCurve; b++ {
				block.SetSym(a, b, full.At(q*perCurve+a, q*perCurve+b))
			}
		}
		basis, coords, got, total, err := directions(block, show[q], 0.999, maxRank)
		if err != nil {
			return nil, fmt.Errorf("posterior of curve %d: %w", q, err)
		}
		kept += got
		counted += total
		r, _ := basis.Dims()
		post.Rank = append(post.Rank, r)
		post.Basis = append(post.Basis, basis.RawMatrix().Data...)
		rows = append(rows, coords)
	}
	if surface > 0 {
		post.Rank = append(post.Rank, 2)
		post.Basis = append(post.Basis, 1, 0, 0, 1)
		rows = append(rows, mat.NewDense(2, 2, []float64{1, 0, 0, 1}))
	}
	if post.Law = len(law); post.Law > 0 {
		one := mat.NewDense(post.Law, post.Law, nil)
		for i := range post.Law {
			one.Set(i, i, 1)
		}
		rows = append(rows, one)
	}
	post.Kept = kept / counted

	width := post.width()
	// Cov = Z full Z', Z block diagonal
	half := mat.NewDense(width, n, nil) // Z full
	at, from := 0, 0
	for _, z := range rows {
		r, w := z.Dims()
		block := mat.NewDense(w, n, nil)
		for i := range w {
			for k := range n {
				block.Set(i, k, full.At(from+i, k))
			}
		}
		half.Slice(at, at+r, 0, n).(*mat.Dense).Mul(z, block)
		at, from = at+r, from+w
	}
	at, from = 0, 0
	cov := mat.NewDense(width, width, nil)
	for _, z := range rows {
		r, w := z.Dims()
		cov.Slice(0, width, at, at+r).(*mat.Dense).Mul(half.Slice(0, width, from, from+w), z.T())
		at, from = at+r, from+w
	}
	for i := range width {
		for k := i; k < width; k++ {
			post.Cov = append(post.Cov, (cov.At(i, k)+cov.At(k, i))/2)
		}
	}
	return post, nil
}

// directions returns the few directions of error with covariance c that show
// in colour, whose sensitivity is G (E of b b' for a colour's gradient b):
// with c = L L', the leading eigenvectors v of L' G L give the directions L v
// (rows of basis) and the coordinates z = v' L^-1 error (rows of coords), of
// unit variance: as many as keep a share of the trace, at most most. kept and all are
// the traces that count.
func directions(c, g *mat.SymDense, share float64, most int) (basis, coords *mat.Dense, kept, all float64, err error) {
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		for i := range perCurve {
			c.SetSym(i, i, c.At(i, i)*(1+1e-9)+1e-12)
		}
		if !chol.Factorize(c) {
			return nil, nil, 0, 0, fmt.Errorf("its covariance is not positive")
		}
	}
	var l mat.TriDense
	chol.LTo(&l)
	var lg, m mat.Dense
	lg.Mul(l.T(), g)
	m.Mul(&lg, &l)
	sym := mat.NewSymDense(perCurve, nil)
	for i := range perCurve {
		for k := i; k < perCurve; k++ {
			sym.SetSym(i, k, (m.At(i, k)+m.At(k, i))/2)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sym, true) {
		return nil, nil, 0, 0, fmt.Errorf("its directions did not separate")
	}
	values := eig.Values(nil)
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
		all += math.Max(values[i], 0)
	}
	sort.SliceStable(order, func(a, b int) bool { return values[order[a]] > values[order[b]] })
	var vectors mat.Dense
	eig.VectorsTo(&vectors)
	rank := 0
	for rank < most && (rank == 0 || kept < share*all) {
		kept += values[order[rank]]
		rank++
	}
	v := mat.NewDense(perCurve, rank, nil)
	for k := range rank {
		for i := range perCurve {
			v.Set(i, k, vectors.At(i, order[k]))
		}
	}
	var lv mat.Dense
	lv.Mul(&l, v)
	basis = mat.DenseCopyOf(lv.T())
	// coords = v' L^-1: solve L' y = v, coords = y'
	var y mat.Dense
	if err := y.Solve(l.T(), v); err != nil && !isCondition(err) {
		return nil, nil, 0, 0, err
	}
	return basis, mat.DenseCopyOf(y.T()), kept, all, nil
}

// eachUsual calls do with usual mixtures: each pigment alone and with each other
// at the loadings its chips span, at the chips' thickness, over white and black.
func (p *problem) eachUsual(do func(*reading)) {
	top := make([]float64, p.curves)
	thickness := 0.0
	for i := range p.readings {
		r := &p.readings[i]
		thickness += r.thickness / float64(len(p.readings))
		for k, q := range r.curve {
			top[q] = math.Max(top[q], r.loading[k])
		}
	}
	for a := 1; a < p.curves; a++ {
		if top[a] == 0 {
			top[a] = 1
		}
	}
	add := func(curves []int, loadings []float64, backing float64) {
		r := reading{chip: &Chip{Measurement: color.Measurement{Specular: color.SpecularIncluded}}, curve: curves, loading: loadings, loadingSD: make([]float64, len(curves)),
			border: make([]int, len(curves)), thick: -1, waves: -1, off: -1, thickness: thickness, backing: color.Constant(backing)}
		for i := range r.border {
			r.border[i] = -1
		}
		do(&r)
	}
	for a := 1; a < p.curves; a++ {
		add([]int{0, a}, []float64{1, top[a]}, 0.9)
		add([]int{0, a}, []float64{1, top[a] * 0.2}, 0.9)
		add([]int{0, a}, []float64{1, top[a] * 0.2}, 0.03)
		for b := a + 1; b < p.curves; b++ {
			add([]int{0, a, b}, []float64{1, top[a] * 0.5, top[b] * 0.5}, 0.9)
			add([]int{0, a, b}, []float64{1, top[a] * 0.6, top[b] * 0.1}, 0.9)
			add([]int{0, a, b}, []float64{1, top[a] * 0.1, top[b] * 0.6}, 0.9)
		}
	}
}

// shows returns for every curve how strongly an error of its ln K and ln S
// shows in colour, averaged over usual mixtures, under daylight, tungsten and a
// fluorescent lamp.
func (p *problem) shows(x state) []*mat.SymDense {
	var weights []*color.Weights
	for _, light := range []color.Illuminant{color.D65, color.A, color.FL11} {
		w, err := color.WeightsFor(color.Condition{Illuminant: light, Observer: color.TenDegree})
		if err != nil {
			continue // the three are always known
		}
		weights = append(weights, w)
	}
	out := make([]*mat.SymDense, p.curves)
	for q := range out {
		out[q] = mat.NewSymDense(perCurve, nil)
	}
	var w workspace
	p.expand(x, &w)
	grad := make([]float64, perCurve)
	p.eachUsual(func(r *reading) {
		p.reflect(r, x, &w)
		for _, light := range weights {
			light.LabWithJacobian((*color.Reflectance)(&w.partials.R), &w.lab, &w.jac)
			for i, q := range r.curve {
				for t := range 3 {
					for b := range color.Bands {
						grad[b] = w.jac[t][b] * w.partials.DK[b] * w.ki[i][b]
						grad[color.Bands+b] = w.jac[t][b] * w.partials.DS[b] * w.si[i][b]
					}
					out[q].SymRankOne(out[q], 1, mat.NewVecDense(perCurve, grad))
				}
			}
		}
	})
	return out
}

// floats is a vector that JSON carries as base64 of little-endian float32: a
// covariance needs no more digits.
type floats []float64

func (f floats) MarshalJSON() ([]byte, error) {
	raw := make([]byte, 4*len(f))
	for i, v := range f {
		binary.LittleEndian.PutUint32(raw[4*i:], math.Float32bits(float32(v)))
	}
	return json.Marshal(base64.StdEncoding.EncodeToString(raw))
}

func (f *floats) UnmarshalJSON(b []byte) error {
	var text string
	if err := json.Unmarshal(b, &text); err != nil {
		return err
	}
	raw, err := base64.StdEncoding.DecodeString(text)
	if err != nil || len(raw)%4 != 0 {
		return fmt.Errorf("posterior: not a list of float32")
	}
	*f = make(floats, len(raw)/4)
	for i := range *f {
		v := math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
		if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
			return fmt.Errorf("posterior: entry %d is not a number", i)
		}
		(*f)[i] = float64(v)
	}
	return nil
}
