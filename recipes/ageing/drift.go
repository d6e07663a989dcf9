package ageing

import "math"

// SettledHours is the age at which a part counts as settled.
const SettledHours = 7 * 24

// The priors; the package says where they come from.
const (
	priorTau   = 56.0 // h
	priorLnTau = 0.5
	priorSD    = 0.5 // of D, Lab
	priorSigma = 0.15
)

// A Reading is what a part read as at an age.
type Reading struct {
	Hours float64 // from the pour, above 0
	Lab   [3]float64
	Count int // readings behind the mean; 0 counts as 1
}

// A Drift is what is known of how parts of a resin change.
type Drift struct {
	// Parts are those that taught it: read at two ages or more. Without any it is the
	// prior alone.
	Parts  int
	points []point
}

// A point is a tau and a sigma of the grid, with what is known of D there.
type point struct {
	weight, tau, sigma float64
	mean               [3]float64
	variance           float64 // of D, along each axis alike
}

// The grid: tau over three standard deviations of its prior either way, sigma from
// hardly any to more than what D itself is expected to be.
const tauSteps = 31

func sigmas() [8]float64 { return [8]float64{0.01, 0.03, 0.06, 0.1, 0.17, 0.28, 0.45, 0.7} }

// Learn returns what parts of a resin tell of its drift, each read at some ages
// under the same light; noise is the standard deviation of one reading along an
// axis.
func Learn(parts [][]Reading, noise float64) Drift {
	var d Drift
	var told [][]Reading
	for _, p := range parts {
		if ages(p) > 1 {
			told = append(told, p)
		}
	}
	d.Parts = len(told)
	grid := sigmas()
	for i := range tauSteps {
		z := 3 * (2*float64(i)/(tauSteps-1) - 1)
		for k, sigma := range grid {
			p := point{tau: priorTau * math.Exp(priorLnTau*z), sigma: sigma}
			ln := -z*z/2 - math.Log1p(sigma*sigma/(priorSigma*priorSigma)) + math.Log(width(grid[:], k))
			p.weight = ln + p.learn(told, noise)
			d.points = append(d.points, p)
		}
	}
	d.normalise()
	return d
}

// width is the share of the axis that a point of a grid stands for.
func width(grid []float64, k int) float64 {
	lo, hi := 0.0, grid[len(grid)-1]
	if k > 0 {
		lo = (grid[k-1] + grid[k]) / 2
	}
	if k < len(grid)-1 {
		hi = (grid[k] + grid[k+1]) / 2
	}
	return hi - lo
}

// ages counts the different ages at which a part was read.
func ages(p []Reading) int {
	seen := map[float64]bool{}
	for _, r := range p {
		seen[r.Hours] = true
	}
	return len(seen)
}

// learn sets what is known of D given tau and sigma, and returns the logarithm of
// the evidence but for what all points share.
func (p *point) learn(parts [][]Reading, noise float64) (ln float64) {
	precision := 1 / (priorSD * priorSD)
	var pull [3]float64
	for _, part := range parts {
		f := p.form(part, noise)
		precision += math.Max(0, f.q(f.xx, f.x, f.x, f.xx, f.xx))
		ln -= 1.5 * (math.Log1p(p.sigma*p.sigma*f.xx) + math.Log(f.inner(f.one, f.x, f.x)))
		for axis := range 3 {
			y, xy, yy := f.y[axis], f.xy[axis], f.yy[axis]
			pull[axis] -= f.q(xy, f.x, y, f.xx, xy)
			ln -= math.Max(0, f.q(yy, y, y, xy, xy)) / 2
		}
	}
	p.variance = 1 / precision
	for axis := range 3 {
		p.mean[axis] = pull[axis] / precision
		ln += pull[axis]*pull[axis]/(2*precision) - math.Log(precision)/2
	}
	return ln
}

// A form is the sums over the readings of a part, weighed by their precision, that
// its likelihood takes: of 1, x = exp(-t / tau), y and their products.
type form struct {
	one, x, xx float64
	y, xy, yy  [3]float64
	g          float64
}

func (p *point) form(part []Reading, noise float64) (f form) {
	for _, r := range part {
		w, x := float64(max(1, r.Count))/(noise*noise), math.Exp(-r.Hours/p.tau)
		f.one, f.x, f.xx = f.one+w, f.x+w*x, f.xx+w*x*x
		for axis := range 3 {
			y := r.Lab[axis] - part[0].Lab[axis] // the level is integrated out; small numbers keep their digits
			f.y[axis], f.xy[axis], f.yy[axis] = f.y[axis]+w*y, f.xy[axis]+w*x*y, f.yy[axis]+w*y*y
		}
	}
	f.g = p.sigma * p.sigma / (1 + p.sigma*p.sigma*f.xx)
	return f
}

// inner is a'C^-1 b, C = noise + sigma^2 x x' (Sherman and Morrison 1950), from the
// sums of ab, ax and bx.
func (f form) inner(ab, ax, bx float64) float64 { return ab - f.g*ax*bx }

// q is inner with the level s integrated out, from the sums of ab, a, b, ax and bx.
func (f form) q(ab, a, b, ax, bx float64) float64 {
	return f.inner(ab, ax, bx) - f.inner(a, ax, f.x)*f.inner(b, bx, f.x)/f.inner(f.one, f.x, f.x)
}

// normalise turns logarithms of weights into weights that add up to 1.
func (d *Drift) normalise() {
	top := math.Inf(-1)
	for _, p := range d.points {
		top = math.Max(top, p.weight)
	}
	sum := 0.0
	for i := range d.points {
		d.points[i].weight = math.Exp(d.points[i].weight - top)
		sum += d.points[i].weight
	}
	for i := range d.points {
		d.points[i].weight /= sum
	}
}

// From returns how a part read at an age is expected to change until it is settled,
// with the covariance of that; none from then on.
func (d Drift) From(hours float64) (change [3]float64, cov [3][3]float64) {
	change, cov, own := d.from(hours)
	for i := range cov {
		cov[i][i] += own
	}
	return change, cov
}

// Alike is what of From's covariance parts of that age share: for what is not known of
// their resin they all deviate the same way, so that many tell no more of it than one.
func (d Drift) Alike(hours float64) [3][3]float64 {
	_, cov, _ := d.from(hours)
	return cov
}

// from is From, with a part's own variance along each axis by itself.
func (d Drift) from(hours float64) (change [3]float64, alike [3][3]float64, own float64) {
	if !(hours < SettledHours) {
		return change, alike, 0
	}
	for _, p := range d.points {
		x := p.left(hours)
		for i := range 3 {
			change[i] += p.weight * x * p.mean[i]
		}
	}
	for _, p := range d.points {
		x := p.left(hours)
		for i := range 3 {
			alike[i][i] += p.weight * x * x * p.variance
			for k := range 3 {
				alike[i][k] += p.weight * (x*p.mean[i] - change[i]) * (x*p.mean[k] - change[k])
			}
		}
		own += p.weight * x * x * p.sigma * p.sigma
	}
	return change, alike, own
}

// left is the share of D that is left at an age, (2).
func (p point) left(hours float64) float64 {
	return math.Exp(-math.Max(0, hours)/p.tau) - math.Exp(-SettledHours/p.tau)
}

// Tau returns the time constant in hours, with the ends of its 95 % interval.
func (d Drift) Tau() (median, low, high float64) {
	at := func(share float64) float64 {
		sum, before := 0.0, 0.0
		perTau := len(sigmas())
		for i := 0; i < len(d.points); i += perTau {
			w := 0.0
			for _, p := range d.points[i : i+perTau] {
				w += p.weight
			}
			if sum+w >= share {
				next := d.points[i].tau
				if before == 0 {
					return next
				}
				return before * math.Pow(next/before, (share-sum)/w)
			}
			sum, before = sum+w, d.points[i].tau
		}
		return before
	}
	return at(0.5), at(0.025), at(0.975)
}
