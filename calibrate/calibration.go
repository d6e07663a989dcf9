package calibrate

import (
	"encoding/json"
	"fmt"
	"math"

	"masstone/calibrate/layer"
	"masstone/color"
)

// Curve is one absorber and scatterer: the bare resin (Code "", per mm) or a
// pigment (per mm and phr).
type Curve struct {
	Code string               `json:"code"`
	K    [color.Bands]float64 `json:"k"`
	S    [color.Bands]float64 `json:"s"`
	KSD  [color.Bands]float64 `json:"ln_k_sd"` // standard deviation of ln K
	SSD  [color.Bands]float64 `json:"ln_s_sd"`
	// MaxPHR is the largest loading among the chips; 0 for the resin.
	MaxPHR PHR `json:"max_phr,omitempty"`
}

// LayerModel names the layer a calibration was fitted with.
type LayerModel struct {
	Name  string  `json:"name"` // KubelkaMunk or ExactLayer
	K1    float64 `json:"k1,omitempty"`
	K2    float64 `json:"k2,omitempty"`
	Index float64 `json:"index,omitempty"`
	// IndexSD is what the readings leave uncertain of Index; 0 where it was given.
	IndexSD float64 `json:"index_sd,omitempty"`
	// Anisotropy is the mean cosine of the scattering angle, of the exact layer.
	Anisotropy float64 `json:"anisotropy,omitempty"`
	// K1SD and K2SD are what the readings leave uncertain of K1 and K2.
	K1SD float64 `json:"k1_sd,omitempty"`
	K2SD float64 `json:"k2_sd,omitempty"`
	// SurfaceKnown is whether the readings could tell K2, or Index, from what was
	// known beforehand.
	SurfaceKnown bool `json:"surface_known"`
}

// Names of the layer models.
const (
	KubelkaMunk = "kubelka-munk"
	ExactLayer  = "exact"
)

// ModelError is what leave-one-chip-out makes of the bars of the fit: the
// posterior's standard deviations are multiplied by Widen (less than 1 where the
// left-out chips come out better than claimed), and every colour
// has a further error of Floor (CIEDE2000 units per direction).
type ModelError struct {
	Widen float64 `json:"widen"`
	Floor float64 `json:"floor_de00"`
	// Layer is the part of the floor that comes of not knowing which layer model
	// is right.
	Layer float64 `json:"layer_de00,omitempty"`
	// Shop is the part that comes of not knowing whether castings keep to the law of
	// mixing.
	Shop float64 `json:"shop_de00,omitempty"`
}

// ChipReport compares one chip with the fit.
type ChipReport struct {
	Chip     string    `json:"chip"`
	Measured color.Lab `json:"measured"` // under the calibration's first condition
	Fitted   color.Lab `json:"fitted"`
	DE00     float64   `json:"dE00"`
	// LeftOut is what the fit would have said without this chip, and LeftDE00
	// its CIEDE2000 from the reading.
	LeftOut  color.Lab `json:"left_out"`
	LeftDE00 float64   `json:"left_out_dE00"`
	// Vague is set where the other chips leave this one so open that leaving
	// it out says nothing; Sigma and Inside are then not judged.
	Vague bool `json:"vague,omitempty"`
	// Sigma is how far the reading lies outside the bars of the fit without
	// it, as the number of standard deviations of equal rarity.
	Sigma float64 `json:"sigma"`
	// Inside is whether the reading lies in the 95 % region claimed for it.
	Inside bool `json:"inside95"`
	// Weighed are the loadings the fit believes were in the cup, for pigments
	// whose weighing error it followed.
	Weighed map[string]PHR `json:"weighed,omitempty"`
}

// Calibration is the fitted optics of one resin and its pigments, with what
// the fit does not know. It is immutable; json.Marshal keeps all of it.
type Calibration struct {
	Curves   []Curve           `json:"curves"` // the resin first
	Layer    LayerModel        `json:"layer"`
	MaxTotal PHR               `json:"max_total_phr"` // largest total loading among the chips
	Main     color.Condition   `json:"main"`          // condition of reports and leave-one-out
	Lights   []color.Condition `json:"lights"`        // conditions in evidence; none with spectra alone
	Spectral bool              `json:"spectral"`
	// Measurements are the ways the chips were read; none where that was not said.
	Measurements []color.Measurement `json:"measurements,omitempty"`
	// Aperture is what most chips were read through; 0 where none says.
	Aperture ApertureMM `json:"aperture_radius_mm,omitempty"`
	Noise    Noise      `json:"noise"`
	// Scatter is how far the strengths of pastes were found to scatter from chip
	// to chip: the standard deviation of ln strength.
	Scatter float64 `json:"strength_scatter"`
	// CastingError is how far castings were found to miss the law of mixing.
	CastingError CastingError `json:"casting_error,omitzero"`
	// Law is how its pastes depart from mixing in proportion.
	Law        Law             `json:"law,omitzero"`
	ModelError ModelError      `json:"model_error"`
	Chips      []ChipReport    `json:"chips"`
	LeaveOut   LeaveOutSummary `json:"leave_one_out"`
	Others     []LayerTrial    `json:"layers_tried"`
	Warnings   []string        `json:"warnings,omitempty"`
	// Suspects are mistakes on record that the readings point to.
	Suspects  []Suspect  `json:"suspects,omitempty"`
	Posterior *posterior `json:"posterior"`

	model layer.Layer
}

// Conservative returns the calibration with bars no narrower than the posterior's
// own, for mixtures that are chosen by their bars. Left-out chips, which nobody
// chose, may come out better than claimed; of many mixtures that with the
// smallest claim is rather one whose claim is too small.
func (c *Calibration) Conservative() *Calibration {
	w := *c
	w.ModelError.Widen = math.Max(1, c.ModelError.Widen)
	return &w
}

// LeaveOutSummary sums up leave-one-chip-out.
type LeaveOutSummary struct {
	Chips      int     `json:"chips"` // chips the others can speak of
	MeanDE00   float64 `json:"mean_dE00"`
	MedianDE00 float64 `json:"median_dE00"`
	Coverage95 float64 `json:"coverage95"` // share of chips inside their 95 % region
}

// LayerTrial is one layer model's leave-one-out result.
type LayerTrial struct {
	Anisotropy float64 `json:"anisotropy,omitempty"` // of the exact layer
	Index      float64 `json:"index,omitempty"`      // of the exact layer
	Name       string  `json:"name"`
	MeanDE00   float64 `json:"mean_dE00"`
	LogScore   float64 `json:"log_score"` // mean ln density of left-out colours, higher is better
	// LogLikelihood is the ln of the likelihood of the readings, the curves
	// integrated out, up to a constant: what the model is chosen by. Weight is how
	// much that speaks for it among all tried, of 1.
	LogLikelihood float64 `json:"log_likelihood"`
	Weight        float64 `json:"weight"`
}

// Codes lists the pigments, in the order of their curves.
func (c *Calibration) Codes() []string {
	var codes []string
	for _, curve := range c.Curves[1:] {
		codes = append(codes, curve.Code)
	}
	return codes
}

// Index returns the position of a pigment's curve, 1 and up, or 0 when the
// calibration does not know it.
func (c *Calibration) Index(code string) int {
	for i, curve := range c.Curves[1:] {
		if curve.Code == code {
			return i + 1
		}
	}
	return 0
}

// build makes the layer model from its description.
func (m LayerModel) build() (layer.Layer, error) {
	switch m.Name {
	case KubelkaMunk:
		return layer.KubelkaMunk{K1: m.K1, K2: m.K2}, nil
	case ExactLayer:
		o := layer.DiffuseEight(m.Index)
		o.Anisotropy = m.Anisotropy
		return layer.NewExactFor(o)
	}
	return nil, fmt.Errorf("layer model %q is not known; this calibration was made by another version", m.Name)
}

// UnmarshalJSON restores a calibration and checks that it is whole.
func (c *Calibration) UnmarshalJSON(b []byte) error {
	type plain Calibration
	var p plain
	if err := json.Unmarshal(b, &p); err != nil {
		return fmt.Errorf("calibration: %w", err)
	}
	if len(p.Curves) == 0 || p.Posterior == nil {
		return fmt.Errorf("calibration: curves or posterior missing")
	}
	if err := p.Posterior.check(len(p.Curves)); err != nil {
		return err
	}
	if km := p.Layer; km.Name == KubelkaMunk && !(km.K1 >= 0 && km.K1 < 1 && km.K2 >= 0 && km.K2 < 1) {
		return fmt.Errorf("calibration: surface constants %g and %g; both lie from 0 up to below 1", km.K1, km.K2)
	}
	if surface := p.Posterior.Rank[len(p.Curves):]; len(surface) > 0 && (surface[0] != 2 || p.Layer.Name != KubelkaMunk) {
		return fmt.Errorf("calibration: the posterior's surface does not fit the layer")
	}
	if e := p.ModelError; !(e.Widen >= 0 && e.Widen <= 1e3 && e.Floor >= 0 && e.Floor <= 1e3) {
		return fmt.Errorf("calibration: model error %g, %g is out of range", e.Widen, e.Floor)
	}
	if l := p.Law; p.Posterior.Law > 0 && len(l.Exponents) != len(p.Curves) || l.Exponents != nil && len(l.Exponents) != len(p.Curves) {
		return fmt.Errorf("calibration: %d exponents of %d curves", len(l.Exponents), len(p.Curves))
	}
	for _, v := range append([]float64{p.Law.Crowding + 1, p.Law.Loss + 0.1, p.Law.Bent + 0.1, p.CastingError.K + 0.1, p.CastingError.S + 0.1}, p.Law.Exponents...) {
		if !(v > 0 && v < 100) {
			return fmt.Errorf("calibration: its law of mixing is out of range")
		}
	}
	seen := map[string]bool{}
	for _, curve := range p.Curves {
		if seen[curve.Code] {
			return fmt.Errorf("calibration: curve %q stands twice", curve.Code)
		}
		seen[curve.Code] = true
		for b := range color.Bands {
			if !(curve.K[b] >= 0 && curve.S[b] >= 0 && curve.K[b] <= 1e9 && curve.S[b] <= 1e9) {
				return fmt.Errorf("calibration: curve %q is out of range", curve.Code)
			}
		}
	}
	model, err := p.Layer.build()
	if err != nil {
		return err
	}
	*c = Calibration(p)
	c.model = model
	return nil
}

// check returns an error when the posterior's shape does not fit the curves.
func (p *posterior) check(curves int) error {
	if len(p.Rank) != curves && len(p.Rank) != curves+1 {
		return fmt.Errorf("posterior: %d curves, %d expected", len(p.Rank), curves)
	}
	width, basis := 0, 0
	for q, r := range p.Rank {
		if r < 0 || r > perCurve {
			return fmt.Errorf("posterior: rank %d of curve %d", r, q)
		}
		width += r
		if q < curves {
			basis += r * perCurve
		} else {
			basis += r * 2
		}
	}
	if p.Law != 0 && p.Law != curves+1 {
		return fmt.Errorf("posterior: %d unknowns of the law of mixing, %d expected", p.Law, curves+1)
	}
	width += p.Law
	if p.Discrepancy != nil {
		width += discrepancyRank
		if err := p.Discrepancy.check(); err != nil {
			return err
		}
	}
	if len(p.Basis) != basis || len(p.Cov) != width*(width+1)/2 {
		return fmt.Errorf("posterior: %d basis and %d covariance entries, %d and %d expected", len(p.Basis), len(p.Cov), basis, width*(width+1)/2)
	}
	return nil
}
