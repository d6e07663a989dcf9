package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func printFit(env *Env, v workbench.FitResult) {
	t := newTable("chip", "loadings (phr)", "read", "fitted", ">dE00", ">left out", ">sigma", "")
	for _, c := range v.Chips {
		left, sigma, flag := fmt.Sprintf("%.2f", c.LeftDE00), fmt.Sprintf("%.1f", c.Sigma), ""
		switch {
		case slices.ContainsFunc(v.Suspects, func(s workbench.Suspect) bool { return slices.Contains(s.Chips, c.Chip) }):
			flag = "suspect, see below"
		case c.Vague:
			left, sigma, flag = "-", "-", "the other chips cannot tell"
		case !c.Inside:
			flag = "outside its 95 % bars"
		}
		t.add(c.Chip, figure.Loadings(c.Loadings), c.Measured.String(), c.Fitted.String(), fmt.Sprintf("%.2f", c.DE00), left, sigma, flag)
		t.paint(env.swatch(c.Measured.Color(c.Under)))
	}
	t.print(env.Stdout)
	env.print("")
	env.print("calibration %s: %s, %s, judged under %s", cmp.Or(v.Calibration, "of "+v.Resin+", not stored"), figure.Count(len(v.Pigments), "pigment"), figure.Count(len(v.Chips), "chip"), v.Main)
	env.print("evidence     %s", evidenceText(v))
	printNamed(env, "carried", carriedLines(v))
	printNamed(env, "pours", pourLines(v))
	if l := v.LeaveOut; l.Chips > 0 {
		env.print("left out     %s predicted from the others: mean dE00 %.2f, median %.2f; %.0f %% inside their 95 %% bars", leftOutText(l), l.MeanDE00, l.MedianDE00, 100*l.Coverage)
	} else {
		env.print("left out     no chip can be predicted from the others: more chips of its pigments tell how good the fit is")
	}
	printNamed(env, "layer", layerLines(v))
	env.print("surface      %s", surfaceText(v.Layer))
	if mm := v.ApertureMM; mm != nil {
		env.print("aperture     %s mm, as the chips say: what scatters past another is counted", figure.Short(float64(*mm)))
	}
	env.print("pastes       as strong in one chip as in the next to %.1f %%", 100*v.Scatter)
	if says := v.Castings.Says; says != "" {
		printNamed(env, "castings", wrapped(says, 66))
	}
	if m := v.ModelError; m.Widen != 1 || m.Layer >= 0.05 || m.Shop >= 0.05 {
		open := ""
		if m.Layer >= 0.05 {
			open = fmt.Sprintf(", %.2g of it since another layer model may hold: more chips tell", m.Layer)
		}
		if m.Shop >= 0.05 {
			may := "castings may miss the law of mixing"
			if v.Castings.K > 0 {
				may = "castings may keep the law of mixing"
			}
			open += fmt.Sprintf(", %.2g of it since %s: more chips tell", m.Shop, may)
		}
		env.print("bars         %.2g times those of the fit, and %.2g dE00 for what the model leaves out%s", m.Widen, m.Floor, open)
	}
	for _, s := range v.Suspects {
		made := "the fit hears it faintly"
		if s.Taken {
			made = "the fit takes it for that"
		}
		printNamed(env, "suspect", wrapped(tidy(s.Says)+"; "+made+", the record stays as it is", 66))
	}
	for _, w := range v.Warnings {
		env.say("warning: %s", w)
	}
}

// leftOutText counts what was left out, castings and pours.
func leftOutText(l workbench.LeftOutChips) string {
	text := figure.Count(l.Chips-l.Pours, "chip")
	if l.Pours > 0 {
		text += " and " + figure.Count(l.Pours, "pour")
	}
	return text
}

// carriedLines say what comes of another resin.
func carriedLines(v workbench.FitResult) []string {
	if v.From == "" {
		return nil
	}
	text := "the shape of the curves comes from " + v.From + "; strengths, resin and surface are as these chips tell"
	if len(v.Carried) > 0 {
		text += fmt.Sprintf("; no chip holds %s: how strong they are in %s is known to %.0f %%", figure.List(v.Carried), v.Resin, 100*calibrate.CarriedStrength)
	}
	return wrapped(text, 66)
}

// pourLines say which pours counted, what they changed, and which did not and why.
func pourLines(v workbench.FitResult) []string {
	p := v.Pours
	switch {
	case p == nil && v.FromPours > 0:
		return []string{fmt.Sprintf("%s counted as chips", figure.Count(v.FromPours, "pour"))}
	case p == nil:
		return nil
	}
	lines := []string{fmt.Sprintf("%s counted as chips, %d left out", figure.Count(len(p.Counted), "pour"), len(p.LeftOut))}
	if y := p.Young; y != nil {
		by := y.Source
		if y.Parts > 0 {
			by = figure.Count(y.Parts, "part") + " read at several ages"
		}
		lines = append(lines, wrapped(fmt.Sprintf("%d of them read young, counted as expected once settled, +-%.2f in each of L*, a*, b* (sd, by %s)", y.Pours, y.SD, by), 66)...)
	}
	if p.Before != "" {
		lines = append(lines, wrapped(fmt.Sprintf("%s said the %s it had not read to %.2f dE00 on average, this fit to %.2f each without having read it", p.Before, figure.Count(p.New, "pour"), *p.BeforeDE, *p.LeftDE), 66)...)
		lines = append(lines, wrapped(fmt.Sprintf("their mixtures moved by %.2f dE00 on average and are expected to %.2f, before to %.2f", *p.Moved, *p.Now, *p.Expected), 66)...)
	}
	var order []string
	why := map[string][]string{}
	for _, l := range p.LeftOut {
		if why[l.Why] == nil {
			order = append(order, l.Why)
		}
		why[l.Why] = append(why[l.Why], l.Pour)
	}
	for _, w := range order {
		lines = append(lines, wrapped("left out "+figure.List(why[w])+": "+tidy(w), 66)...)
	}
	return lines
}

// printNamed prints lines under one name.
func printNamed(env *Env, name string, lines []string) {
	for i, line := range lines {
		env.print("%-12s %s", [2]string{name}[min(i, 1)], line)
	}
}

func evidenceText(v workbench.FitResult) string {
	var parts []string
	if v.Spectral {
		parts = append(parts, "spectra")
	}
	if len(v.Lights) > 0 {
		parts = append(parts, "Lab under "+figure.List(v.Lights))
	}
	text := strings.Join(parts, " and ")
	if !v.Spectral && len(v.Lights) == 1 {
		text += "; colours under other lights are guesses: read the chips under a second light or as spectra"
	}
	return text
}

// layerLines say which layer model was taken and by how much it won.
func layerLines(v workbench.FitResult) []string {
	at := slices.IndexFunc(v.Tried, func(t workbench.TriedLayer) bool {
		return t.Name == v.Layer.Name && orZero(t.MeanCosine) == orZero(v.Layer.MeanCosine)
	})
	if at < 0 {
		return []string{v.Layer.Name}
	}
	own := v.Tried[at]
	lines := []string{fmt.Sprintf("%s: left-out mean dE00 %.2f", triedName(own), own.MeanDE00)}
	for i, t := range v.Tried {
		more := t.LogLikelihood - own.LogLikelihood
		switch {
		case i == at:
		case more > 0: // the unusual has to be clearly better
			lines = append(lines, fmt.Sprintf("before %s: %.2f, ln likelihood more by only %.1f", triedName(t), t.MeanDE00, more))
		default:
			lines = append(lines, fmt.Sprintf("before %s: %.2f, ln likelihood less by %.1f", triedName(t), t.MeanDE00, -more))
		}
	}
	switch {
	case v.From != "":
		lines[0] += ", as in " + v.From
	case len(lines) == 1:
		lines[0] += ", as told"
	}
	return lines
}

// triedName names a layer model as tried: the exact layer by its index and how
// far forward its particles scatter.
func triedName(t workbench.TriedLayer) string {
	if t.Name != calibrate.ExactLayer {
		return t.Name
	}
	return fmt.Sprintf("%s with index %.3f, mean cosine %.2g", t.Name, orZero(t.Index), orZero(t.MeanCosine))
}

func surfaceText(l workbench.FittedLayer) string {
	switch {
	case l.Name == calibrate.ExactLayer:
		how := "evenly"
		if g := orZero(l.MeanCosine); g != 0 {
			how = fmt.Sprintf("forward by %.2g (mean cosine)", g)
		}
		index := fmt.Sprintf("%.3f, as told", orZero(l.Index))
		switch {
		case l.SurfaceKnown:
			index = fmt.Sprintf("%.3f ± %.3f, found from the readings", orZero(l.Index), orZero(l.IndexSD))
		case l.IndexSD != nil:
			index = fmt.Sprintf("%.3f; these readings hardly tell", orZero(l.Index))
		}
		return fmt.Sprintf("that of refractive index %s; particles scatter %s", index, how)
	case l.SurfaceKnown:
		return fmt.Sprintf("k1 %.3f ± %.3f, k2 %.3f ± %.3f, found from the readings", orZero(l.K1), orZero(l.K1SD), orZero(l.K2), orZero(l.K2SD))
	}
	return fmt.Sprintf("k1 %.3f, k2 %.3f, the usual ones: these readings cannot tell", orZero(l.K1), orZero(l.K2))
}

// orZero is a number that may be left out.
func orZero(n *figure.Number) float64 {
	if n == nil {
		return 0
	}
	return float64(*n)
}

// printFiles lists the files of a report by what they are.
func printFiles(env *Env, folder string, files []string) {
	endings := map[string]string{} // .svg .png, by name
	var names []string
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
		if endings[name] == "" {
			names = append(names, name)
		}
		endings[name] += " " + filepath.Ext(f)
	}
	byEndings := map[string][]string{}
	var order []string
	for _, name := range names {
		if byEndings[endings[name]] == nil {
			order = append(order, endings[name])
		}
		byEndings[endings[name]] = append(byEndings[endings[name]], name)
	}
	for _, e := range order {
		printNamed(env, "report", wrapped(fmt.Sprintf("in %s, as%s: %s", tidy(folder), e, figure.List(byEndings[e])), 66))
	}
}
