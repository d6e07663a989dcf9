package main

import (
	"fmt"
	"strings"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// fitView is a fit in JSON.
type fitView struct {
	Calibration string        `json:"calibration"`
	Resin       string        `json:"resin"`
	Version     int           `json:"version"`
	Evidence    string        `json:"evidence"`
	Pigments    []string      `json:"pigments"`
	Layer       layerView     `json:"layer"`
	Tried       []trialView   `json:"layers_tried"`
	Main        string        `json:"main"`
	Lights      []string      `json:"lights"`
	Spectral    bool          `json:"spectral"`
	Noise       noiseView     `json:"noise"`
	Scatter     fig           `json:"strength_scatter"`
	ModelError  modelView     `json:"model_error"`
	LeaveOut    leaveOutView  `json:"leave_one_out"`
	Chips       []chipFitView `json:"chips"`
	Warnings    []string      `json:"warnings"`
	Suspects    []suspectView `json:"suspects"`
	Report      []string      `json:"report,omitempty"`
}

type layerView struct {
	Name         string `json:"name"`
	K1           *fig   `json:"k1,omitempty"`
	K2           *fig   `json:"k2,omitempty"`
	K1SD         *fig   `json:"k1_sd,omitempty"`
	K2SD         *fig   `json:"k2_sd,omitempty"`
	Index        *fig   `json:"index,omitempty"`
	IndexSD      *fig   `json:"index_sd,omitempty"`
	Cosine       *fig   `json:"mean_cosine,omitempty"`
	SurfaceKnown bool   `json:"surface_known"`
}

type trialView struct {
	Name     string `json:"name"`
	Index    *fig   `json:"index,omitempty"`
	Cosine   *fig   `json:"mean_cosine,omitempty"`
	Mean     fig    `json:"mean_dE00"`
	LogScore fig    `json:"log_score"`
	Likely   fig    `json:"log_likelihood"`
	Weight   fig    `json:"weight"`
}

// meanCosine is how far forward the particles of an exact layer scatter.
func meanCosine(layer string, anisotropy float64) *fig {
	if layer != calibrate.ExactLayer {
		return nil
	}
	v := fig(anisotropy)
	return &v
}

type noiseView struct {
	Lab      fig `json:"lab_sd"`
	Spectrum fig `json:"spectrum_sd"`
}

type modelView struct {
	Widen fig `json:"widen"`
	Floor fig `json:"floor_dE00"`
	Layer fig `json:"layer_dE00"`
}

type leaveOutView struct {
	Chips    int `json:"chips"`
	Mean     fig `json:"mean_dE00"`
	Median   fig `json:"median_dE00"`
	Coverage fig `json:"coverage95"`
}

// suspectView is a mistake that the readings point to, in JSON.
type suspectView struct {
	calibrate.Suspect
	Says string `json:"says"`
}

func viewSuspects(all []calibrate.Suspect) []suspectView {
	views := make([]suspectView, len(all))
	for i, s := range all {
		views[i] = suspectView{s, s.String()}
	}
	return views
}

// suspected are the chips that are suspected, each alone or with others.
func suspected(cal *calibrate.Calibration) map[string]bool {
	names := map[string]bool{}
	for _, s := range cal.Suspects {
		for _, chip := range s.Chips {
			names[chip] = true
		}
	}
	return names
}

// printSuspects names what the readings point to, and what the fit made of it.
func printSuspects(env *Env, all []calibrate.Suspect) {
	for _, s := range all {
		made := "the fit hears it faintly"
		if s.Taken {
			made = "the fit takes it for that"
		}
		for i, line := range wrapped(tidy(s.String())+"; "+made+", the record stays as it is", 66) {
			env.print("%-12s %s", [2]string{"suspect"}[min(i, 1)], line)
		}
	}
}

type chipFitView struct {
	Chip     string         `json:"chip"`
	Loadings map[string]fig `json:"loadings_phr"`
	Under    string         `json:"under"`
	Measured labView        `json:"measured"`
	Fitted   labView        `json:"fitted"`
	LeftOut  labView        `json:"left_out"`
	DE00     fig            `json:"dE00"`
	LeftDE00 fig            `json:"left_out_dE00"`
	Sigma    fig            `json:"sigma"`
	Inside   bool           `json:"inside95"`
	Vague    bool           `json:"vague,omitempty"`
	Weighed  map[string]fig `json:"weighed_phr,omitempty"`
}

func viewFit(stored archive.Calibration, evidence calibrate.Evidence, cal *calibrate.Calibration, chips []calibrate.Chip, files []string) fitView {
	l := cal.Layer
	v := fitView{Calibration: fitName(stored), Resin: stored.Resin, Version: stored.Version, Evidence: string(evidence), Report: files, Pigments: cal.Codes(),
		Layer: layerView{l.Name, optional(l.K1), optional(l.K2), optional(l.K1SD), optional(l.K2SD), optional(l.Index), optional(l.IndexSD), meanCosine(l.Name, l.Anisotropy), l.SurfaceKnown},
		Main:  cal.Main.String(), Lights: []string{}, Spectral: cal.Spectral,
		Noise:      noiseView{fig(cal.Noise.LabSD), fig(cal.Noise.SpectrumSD)},
		Scatter:    fig(cal.Scatter),
		ModelError: modelView{fig(cal.ModelError.Widen), fig(cal.ModelError.Floor), fig(cal.ModelError.Layer)},
		LeaveOut:   leaveOutView{cal.LeaveOut.Chips, fig(cal.LeaveOut.MeanDE00), fig(cal.LeaveOut.MedianDE00), fig(cal.LeaveOut.Coverage95)},
		Warnings:   append([]string{}, cal.Warnings...),
		Suspects:   viewSuspects(cal.Suspects)}
	for _, c := range cal.Lights {
		v.Lights = append(v.Lights, c.String())
	}
	for _, t := range cal.Others {
		v.Tried = append(v.Tried, trialView{t.Name, optional(t.Index), meanCosine(t.Name, t.Anisotropy), fig(t.MeanDE00), fig(t.LogScore), fig(t.LogLikelihood), fig(t.Weight)})
	}
	for i, c := range cal.Chips {
		v.Chips = append(v.Chips, chipFitView{c.Chip, figures(chips[i].Loadings), c.Measured.Under.String(), viewLab(c.Measured), viewLab(c.Fitted), viewLab(c.LeftOut),
			fig(c.DE00), fig(c.LeftDE00), fig(c.Sigma), c.Inside, c.Vague, figures(c.Weighed)})
	}
	return v
}

func printFit(env *Env, stored archive.Calibration, cal *calibrate.Calibration, chips []calibrate.Chip) {
	suspect := suspected(cal)
	t := newTable("chip", "loadings (phr)", "read", "fitted", ">dE00", ">left out", ">sigma", "")
	for i, c := range cal.Chips {
		left, sigma, flag := fmt.Sprintf("%.2f", c.LeftDE00), fmt.Sprintf("%.1f", c.Sigma), ""
		switch {
		case suspect[c.Chip]:
			flag = "suspect, see below"
		case c.Vague:
			left, sigma, flag = "-", "-", "the other chips cannot tell"
		case !c.Inside:
			flag = "outside its 95 % bars"
		}
		t.add(c.Chip, recipeText(chips[i].Loadings, " ", ", "), labText(c.Measured), labText(c.Fitted), fmt.Sprintf("%.2f", c.DE00), left, sigma, flag)
		t.paint(env.swatch(c.Measured))
	}
	t.print(env.Stdout)
	l := cal.LeaveOut
	env.print("")
	env.print("calibration %s: %s, %s, judged under %s", firstText(fitName(stored), "of "+stored.Resin+", not stored"), plural(len(cal.Curves)-1, "pigment"), plural(len(cal.Chips), "chip"), cal.Main)
	env.print("evidence     %s", evidenceText(cal))
	env.print("left out     %s predicted from the others: mean dE00 %.2f, median %.2f; %.0f %% inside their 95 %% bars", plural(l.Chips, "chip"), l.MeanDE00, l.MedianDE00, 100*l.Coverage95)
	for i, line := range layerLines(cal) {
		env.print("%-12s %s", [2]string{"layer"}[min(i, 1)], line)
	}
	env.print("surface      %s", surfaceText(cal.Layer))
	env.print("pastes       as strong in one chip as in the next to %.1f %%", 100*cal.Scatter)
	if m := cal.ModelError; m.Widen != 1 || m.Layer >= 0.05 {
		layer := ""
		if m.Layer >= 0.05 {
			layer = fmt.Sprintf(", %.2g of it since another layer model may hold: more chips tell", m.Layer)
		}
		env.print("bars         %.2g times those of the fit, and %.2g dE00 for what the model leaves out%s", m.Widen, m.Floor, layer)
	}
	printSuspects(env, cal.Suspects)
	for _, w := range cal.Warnings {
		env.say("warning: %s", w)
	}
}

// fitName is the name of a stored fit.
func fitName(stored archive.Calibration) string {
	if stored.Version == 0 {
		return ""
	}
	return stored.Name()
}

func evidenceText(cal *calibrate.Calibration) string {
	var parts []string
	if cal.Spectral {
		parts = append(parts, "spectra")
	}
	if len(cal.Lights) > 0 {
		var lights []string
		for _, c := range cal.Lights {
			lights = append(lights, c.String())
		}
		parts = append(parts, "Lab under "+listed(lights))
	}
	text := strings.Join(parts, " and ")
	if !cal.Spectral && len(cal.Lights) == 1 {
		text += "; colours under other lights are guesses: read the chips under a second light or as spectra"
	}
	return text
}

// layerLines say which layer model was taken and by how much it won.
func layerLines(cal *calibrate.Calibration) []string {
	var own calibrate.LayerTrial
	var others []calibrate.LayerTrial
	for _, t := range cal.Others {
		if t.Name == cal.Layer.Name && t.Anisotropy == cal.Layer.Anisotropy {
			own = t
		} else {
			others = append(others, t)
		}
	}
	lines := []string{fmt.Sprintf("%s: left-out mean dE00 %.2f", trialName(own), own.MeanDE00)}
	for _, t := range others {
		line := fmt.Sprintf("before %s: %.2f, ln likelihood less by %.1f", trialName(t), t.MeanDE00, own.LogLikelihood-t.LogLikelihood)
		if more := t.LogLikelihood - own.LogLikelihood; more > 0 { // the unusual has to be clearly better
			line = fmt.Sprintf("before %s: %.2f, ln likelihood more by only %.1f", trialName(t), t.MeanDE00, more)
		}
		lines = append(lines, line)
	}
	if len(others) == 0 {
		lines[0] += ", as told"
	}
	return lines
}

// trialName names a layer model as tried: the exact layer by its index and how
// far forward its particles scatter.
func trialName(t calibrate.LayerTrial) string {
	if t.Name != calibrate.ExactLayer {
		return t.Name
	}
	return fmt.Sprintf("%s with index %.3f, mean cosine %.2g", t.Name, t.Index, t.Anisotropy)
}

func surfaceText(l calibrate.LayerModel) string {
	switch {
	case l.Name == calibrate.ExactLayer:
		how := "evenly"
		if l.Anisotropy != 0 {
			how = fmt.Sprintf("forward by %.2g (mean cosine)", l.Anisotropy)
		}
		index := fmt.Sprintf("%.3f, as told", l.Index)
		switch {
		case l.SurfaceKnown:
			index = fmt.Sprintf("%.3f ± %.3f, found from the readings", l.Index, l.IndexSD)
		case l.IndexSD > 0:
			index = fmt.Sprintf("%.3f; these readings hardly tell", l.Index)
		}
		return fmt.Sprintf("that of refractive index %s; particles scatter %s", index, how)
	case l.SurfaceKnown:
		return fmt.Sprintf("k1 %.3f ± %.3f, k2 %.3f ± %.3f, found from the readings", l.K1, l.K1SD, l.K2, l.K2SD)
	}
	return fmt.Sprintf("k1 %.3f, k2 %.3f, the usual ones: these readings cannot tell", l.K1, l.K2)
}
