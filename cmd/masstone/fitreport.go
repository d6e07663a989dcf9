package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/calibrate/charts"
	"masstone/calibrate/gamut"
	"masstone/color"
	"masstone/recipes/archive"
)

// firstLight is the light of a fit from one Lab where D65/10 was not read: the
// usual one where there are spectra, else the first that was read.
func firstLight(chips []calibrate.Chip) color.Condition {
	for _, c := range chips {
		if c.Spectrum != nil {
			return color.D65Ten()
		}
	}
	for _, c := range chips {
		if len(c.Labs) > 0 {
			return c.Labs[0].Under
		}
	}
	return color.D65Ten()
}

// simpler leaves the chips what a simpler instrument would have read of them.
func simpler(env *Env, e calibrate.Evidence, chips []calibrate.Chip, main color.Condition) ([]calibrate.Chip, error) {
	kept, without, err := e.Of(chips, main)
	switch {
	case err != nil:
		return nil, err
	case len(kept) == 0 && e == calibrate.SpectralEvidence:
		return nil, errors.New("no chip has a spectrum; leave --evidence out, or read the chips as spectra")
	case len(kept) == 0:
		return nil, fmt.Errorf("no chip was read under %s; say --main LIGHT/OBSERVER", main)
	case len(without) > 0:
		env.say("left out, as --evidence %s leaves nothing of them: %s", e, listed(without))
	}
	return kept, nil
}

// fittedCards are the cards of the chips that are fitted.
func fittedCards(cards []archive.Chip, chips []calibrate.Chip) []archive.Chip {
	return slices.DeleteFunc(slices.Clone(cards), func(k archive.Chip) bool {
		return !slices.ContainsFunc(chips, func(c calibrate.Chip) bool { return c.Name == k.Name })
	})
}

// fittedPigments are the pigments that are in the chips that are fitted.
func fittedPigments(codes []string, chips []calibrate.Chip) []string {
	return slices.DeleteFunc(slices.Clone(codes), func(code string) bool {
		return !slices.ContainsFunc(chips, func(c calibrate.Chip) bool { return c.Loadings[code] > 0 })
	})
}

// reportFolder makes the folder of a report, so that a fit is not done for
// nothing.
func reportFolder(env *Env, folder string) error {
	if folder == "" {
		return nil
	}
	if err := os.MkdirAll(env.path(folder), 0o755); err != nil {
		return fmt.Errorf("--report %s: cannot be made (%w); name another folder", folder, reason(err))
	}
	return nil
}

// writeReport draws a fit into a folder and lists the files.
func writeReport(env *Env, folder, title string, resin archive.Resin, cal *calibrate.Calibration, chips []calibrate.Chip) ([]string, error) {
	if folder == "" {
		return nil, nil
	}
	p := env.progress()
	defer p.end()
	p.step("drawing the report")
	all, err := charts.All(cal, charts.Options{Title: title, Chips: chips, Limits: gamut.Limits{TotalPHR: calibrate.PHR(resin.MaxPHR)}})
	if err != nil {
		return nil, err
	}
	var files []string
	for _, c := range all {
		for _, format := range c.Formats {
			p.step("drawing the report")
			name := filepath.Join(folder, c.Name+"."+format)
			if err := env.write(name, func(w io.Writer) error { return c.Draw(w, format) }); err != nil {
				return files, err
			}
			files = append(files, name)
		}
	}
	return files, nil
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
		for i, line := range wrapped(fmt.Sprintf("in %s, as%s: %s", tidy(folder), e, listed(byEndings[e])), 66) {
			env.print("%-12s %s", [2]string{"report"}[min(i, 1)], line)
		}
	}
}
