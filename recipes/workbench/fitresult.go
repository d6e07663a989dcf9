package workbench

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A FitResult is a calibration as fitted, chip by chip. Differences are
// CIEDE2000 under the main light.
type FitResult struct {
	Calibration string        `json:"calibration" doc:"name; empty for a dry run"`
	Resin       string        `json:"resin"`
	Version     int           `json:"version" doc:"0 for a dry run"`
	Evidence    string        `json:"evidence"`
	Pigments    []string      `json:"pigments"`
	Layer       FittedLayer   `json:"layer"`
	Tried       []TriedLayer  `json:"layers_tried"`
	Main        string        `json:"main"`
	Lights      []string      `json:"lights"`
	Spectral    bool          `json:"spectral"`
	Noise       ReadingNoise  `json:"noise"`
	Scatter     figure.Number `json:"strength_scatter" doc:"of pastes from chip to chip, sd of ln strength"`
	Castings    Castings      `json:"castings"`
	ModelError  ModelError    `json:"model_error"`
	LeaveOut    LeftOutChips  `json:"leave_one_out"`
	Chips       []FittedChip  `json:"chips"`
	From        string        `json:"from,omitempty" doc:"calibration of another resin that the shape of the curves comes from"`
	Carried     []string      `json:"carried,omitempty" doc:"pigments that come of it alone"`
	Pours       *FittedPours  `json:"pours,omitempty" doc:"read pours of the resin, where it has pours and they were not left out"`
	FromPours   int           `json:"from_pours" doc:"how many pours it was fitted from beside the chips"`
	Suspects    []Suspect     `json:"suspects"`
	Warnings    []string      `json:"warnings"`

	Remarks Remarks `json:"-"`

	// ApertureMM is set where the chips say what they were read through.
	ApertureMM *figure.Number `json:"aperture_mm,omitempty" doc:"diameter that most chips were read through, where they say it: what scatters past another is counted"`
}

// A FittedLayer is the model of light in the layer that was taken. What its
// kind does not have is left out.
type FittedLayer struct {
	Name         string         `json:"name"`
	K1           *figure.Number `json:"k1,omitempty"`
	K2           *figure.Number `json:"k2,omitempty"`
	K1SD         *figure.Number `json:"k1_sd,omitempty"`
	K2SD         *figure.Number `json:"k2_sd,omitempty"`
	Index        *figure.Number `json:"index,omitempty"`
	IndexSD      *figure.Number `json:"index_sd,omitempty"`
	MeanCosine   *figure.Number `json:"mean_cosine,omitempty" doc:"of the scattering angle"`
	SurfaceKnown bool           `json:"surface_known" doc:"the readings could tell it"`
}

// A TriedLayer is how well a layer model says of chips what was read, each
// chip left out.
type TriedLayer struct {
	Name          string         `json:"name"`
	Index         *figure.Number `json:"index,omitempty"`
	MeanCosine    *figure.Number `json:"mean_cosine,omitempty"`
	MeanDE00      figure.Number  `json:"mean_dE00" doc:"of the left-out chips"`
	LogScore      figure.Number  `json:"log_score" doc:"mean ln density of the left-out chips"`
	LogLikelihood figure.Number  `json:"log_likelihood"`
	Weight        figure.Number  `json:"weight" doc:"how likely the model is, of 1"`
}

// ReadingNoise is the standard deviation of a reading as the fit found it.
type ReadingNoise struct {
	Lab      figure.Number `json:"lab_sd"`
	Spectrum figure.Number `json:"spectrum_sd"`
}

// ModelError is what leaving chips out made of the bars.
type ModelError struct {
	Widen figure.Number `json:"widen" doc:"of the bars of the fit"`
	Floor figure.Number `json:"floor_dE00"`
	Layer figure.Number `json:"layer_dE00" doc:"of the floor, for the other layer models that may hold"`
	Shop  figure.Number `json:"shop_dE00" doc:"of the floor, for a shop that keeps the law of mixing, or does not, as was not taken"`
}

// Castings is how far castings were found to miss the law of mixing.
type Castings struct {
	K     figure.Number `json:"ln_k_sd" doc:"by which ln K misses it, 0 where nothing shows"`
	S     figure.Number `json:"ln_s_sd" doc:"and ln S"`
	Least figure.Number `json:"least_dE00" doc:"expected difference that more chips do not lower"`
	Says  string        `json:"says"`
}

// castingsOf sums up how crooked the shop is: it says nothing of a straight one.
func castingsOf(cal *calibrate.Calibration) Castings {
	e := cal.CastingError
	if e.LeastDE00 == 0 { // a straight shop, of which predictions count that it may be none
		return Castings{}
	}
	v := Castings{figure.Number(e.K), figure.Number(e.S), figure.Number(e.LeastDE00), ""}
	if e.K > 0 {
		v.Says = fmt.Sprintf("castings miss the law of mixing by %.2g %%: more chips will not lower expected dE00 below %.1f", 100*e.K, e.LeastDE00)
	}
	return v
}

// crookedNotes are those of a match or a plan.
func crookedNotes(cal *calibrate.Calibration) []string {
	if says := castingsOf(cal).Says; says != "" {
		return []string{sentence(says)}
	}
	return nil
}

// sentence is a remark with a capital and a full stop, as papers have it.
func sentence(remark string) string {
	first, size := utf8.DecodeRuneInString(remark)
	remark = strings.TrimSuffix(remark, ".")
	return string(unicode.ToUpper(first)) + remark[size:] + "."
}

// LeftOutChips sums up what the fit says of chips without having read them.
type LeftOutChips struct {
	Chips      int           `json:"chips" doc:"that the others can speak of, pours that count as chips among them"`
	Pours      int           `json:"pours" doc:"of these"`
	MeanDE00   figure.Number `json:"mean_dE00"`
	MedianDE00 figure.Number `json:"median_dE00"`
	Coverage   figure.Number `json:"coverage95" doc:"share inside their 95 % region"`
}

// A FittedChip is a chip beside what the fit says of it, with and without
// having read it.
type FittedChip struct {
	Chip     string                   `json:"chip"`
	Loadings map[string]figure.Number `json:"loadings_phr"`
	Under    string                   `json:"under"`
	Measured figure.Lab               `json:"measured"`
	Fitted   figure.Lab               `json:"fitted"`
	LeftOut  figure.Lab               `json:"left_out"`
	DE00     figure.Number            `json:"dE00"`
	LeftDE00 figure.Number            `json:"left_out_dE00"`
	Sigma    figure.Number            `json:"sigma"`
	Inside   bool                     `json:"inside95"`
	Vague    bool                     `json:"vague,omitempty" doc:"the other chips cannot tell"`
	Weighed  map[string]figure.Number `json:"weighed_phr,omitempty" doc:"what the fit believes was in the cup"`
}

// A Suspect is a mistake on record that the readings point to. The record stays
// as it is.
type Suspect struct {
	Chips       []string       `json:"chips"`
	Cause       string         `json:"cause"`
	Pigment     string         `json:"pigment"`
	Factor      *figure.Number `json:"factor,omitempty" doc:"true over written loading"`
	Over        string         `json:"over,omitempty" doc:"backing it was really read over"`
	WrittenOver string         `json:"written_over,omitempty" doc:"the backing on record"`
	Sigma       figure.Number  `json:"sigma"`
	Odds        figure.Number  `json:"ln_odds" doc:"against the next explanation"`
	Taken       bool           `json:"taken" doc:"the fit takes the chips for that, else it hears them faintly"`
	Says        string         `json:"says"`
}

// fill says what was fitted.
func (v *FitResult) fill(stored archive.Calibration, evidence calibrate.Evidence, cal *calibrate.Calibration, chips []calibrate.Chip) {
	n := func(x float64) figure.Number { return figure.Number(x) }
	if stored.Version > 0 {
		v.Calibration = stored.Name()
	}
	v.FromPours = len(stored.Pours)
	if stored.From != "" {
		for _, code := range cal.Codes() {
			if !slices.ContainsFunc(chips, func(c calibrate.Chip) bool { return c.Loadings[code] > 0 }) {
				v.Carried = append(v.Carried, code)
			}
		}
	}
	v.Resin, v.Version, v.Evidence, v.Pigments = stored.Resin, stored.Version, string(evidence), append([]string{}, cal.Codes()...)
	l := cal.Layer
	v.Layer = FittedLayer{l.Name, figure.Known(l.K1), figure.Known(l.K2), figure.Known(l.K1SD), figure.Known(l.K2SD),
		figure.Known(l.Index), figure.Known(l.IndexSD), meanCosine(l.Name, l.Anisotropy), l.SurfaceKnown}
	for _, t := range cal.Others {
		v.Tried = append(v.Tried, TriedLayer{t.Name, figure.Known(t.Index), meanCosine(t.Name, t.Anisotropy), n(t.MeanDE00), n(t.LogScore), n(t.LogLikelihood), n(t.Weight)})
	}
	v.Main, v.Lights, v.Spectral = cal.Main.String(), []string{}, cal.Spectral
	for _, c := range cal.Lights {
		v.Lights = append(v.Lights, c.String())
	}
	v.ApertureMM = figure.Known(cal.Aperture.Diameter())
	v.Noise, v.Scatter = ReadingNoise{n(cal.Noise.LabSD), n(cal.Noise.SpectrumSD)}, n(cal.Scatter)
	v.ModelError = ModelError{n(cal.ModelError.Widen), n(cal.ModelError.Floor), n(cal.ModelError.Layer), n(cal.ModelError.Shop)}
	v.Castings = castingsOf(cal)
	told := 0
	for _, c := range cal.Chips { // which are no pours
		if !c.Vague {
			told++
		}
	}
	v.LeaveOut = LeftOutChips{cal.LeaveOut.Chips, max(0, cal.LeaveOut.Chips-told), n(cal.LeaveOut.MeanDE00), n(cal.LeaveOut.MedianDE00), n(cal.LeaveOut.Coverage95)}
	for i := range chips {
		v.Chips = append(v.Chips, fittedChip(cal.Chips[i], chips[i]))
	}
	v.Suspects, v.Warnings = []Suspect{}, append([]string{}, cal.Warnings...)
	for _, s := range cal.Suspects {
		v.Suspects = append(v.Suspects, suspectOf(s))
	}
}

func fittedChip(c calibrate.ChipReport, chip calibrate.Chip) FittedChip {
	n := func(x float64) figure.Number { return figure.Number(x) }
	return FittedChip{c.Chip, figure.Map(chip.Loadings), c.Measured.Under.String(), figure.LabOf(c.Measured), figure.LabOf(c.Fitted), figure.LabOf(c.LeftOut),
		n(c.DE00), n(c.LeftDE00), n(c.Sigma), c.Inside, c.Vague, figure.Map(c.Weighed)}
}

func suspectOf(s calibrate.Suspect) Suspect {
	return Suspect{s.Chips, string(s.Cause), s.Pigment, figure.Known(s.Factor), s.Backing, s.Written, figure.Number(s.Sigma), figure.Number(s.Odds), s.Taken, s.String()}
}

// meanCosine is how far forward the particles of an exact layer scatter; nil
// for another layer.
func meanCosine(layer string, anisotropy float64) *figure.Number {
	if layer != calibrate.ExactLayer {
		return nil
	}
	return figure.Of(anisotropy)
}
