package main

import (
	"context"
	"fmt"
	"math"
	"slices"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// lotsInUse are the opened lots of a resin and of pigments.
func lotsInUse(ctx context.Context, b *archive.Bench, resin string, codes []string) ([]archive.LotName, error) {
	opened, err := b.OpenedLots(ctx)
	if err != nil {
		return nil, err
	}
	var out []archive.LotName
	for _, o := range opened {
		if o.Item == archive.OfResin && o.Code == resin || o.Item == archive.OfPigment && slices.Contains(codes, o.Code) {
			out = append(out, archive.LotName{Item: o.Item, Code: o.Code, Name: o.Lot})
		}
	}
	return out, nil
}

// lotOf finds the lot of a pigment or resin among several.
func lotOf(lots []archive.LotName, item, code string) string {
	for _, l := range lots {
		if l.Item == item && l.Code == code {
			return l.Name
		}
	}
	return ""
}

// strengthsOf is what is believed of pigment lots against a calibration. What
// was learnt from any of the pours in without is left out, since those will be
// counted anew; notes name lots whose strength is known against another
// calibration only.
func strengthsOf(ctx context.Context, b *archive.Bench, lots []archive.LotName, stored archive.Calibration, without []string) (known map[string]calibrate.Strength, notes []string, err error) {
	all, err := b.LotStrengths(ctx)
	if err != nil {
		return nil, nil, err
	}
	known = map[string]calibrate.Strength{}
	for _, s := range all {
		name := archive.LotName{Item: s.Item, Code: s.Code, Name: s.Lot}
		if s.Item != archive.OfPigment || !slices.Contains(lots, name) {
			continue
		}
		if slices.ContainsFunc(s.Evidence, func(ref string) bool { return slices.Contains(without, ref) }) {
			continue
		}
		if s.Calibration != stored.Ref {
			notes = append(notes, fmt.Sprintf("the strength of %s lot %s was learnt against another calibration than %s and is not counted; learn it again", s.Code, s.Lot, stored.Name()))
			continue
		}
		known[s.Code] = calibrate.Strength{Ln: s.LnStrength, SD: s.SD}
	}
	return known, notes, nil
}

// fitted keeps the strengths of pigments that a calibration knows.
func fitted(cal *calibrate.Calibration, known map[string]calibrate.Strength) map[string]calibrate.Strength {
	out := map[string]calibrate.Strength{}
	for code, s := range known {
		if cal.Index(code) != 0 {
			out[code] = s
		}
	}
	return out
}

// strengthText says how strong a lot is: 12 % stronger (95 %: 6 to 18 %).
func strengthText(s calibrate.Strength) string {
	share := func(ln float64) float64 { return math.Round(100*math.Expm1(ln)) + 0 } // no -0
	v := share(s.Ln)
	text := "as strong as calibrated"
	switch {
	case v >= 0.5:
		text = fmt.Sprintf("%.0f %% stronger", v)
	case v <= -0.5:
		text = fmt.Sprintf("%.0f %% weaker", -v)
	}
	return text + fmt.Sprintf(" (95 %%: %+.0f to %+.0f %%)", share(s.Ln-1.96*s.SD), share(s.Ln+1.96*s.SD))
}

// strengthView is a lot's strength in JSON.
type strengthView struct {
	Code     string `json:"code"`
	Lot      string `json:"lot,omitempty"`
	Strength fig    `json:"strength"` // 1 is as calibrated
	Low95    fig    `json:"low95"`
	High95   fig    `json:"high95"`
	Ln       fig    `json:"ln_strength"`
	SD       fig    `json:"sd_ln"`
}

const strengthKeys = `code, lot, strength (1 as
calibrated), low95, high95, ln_strength, sd_ln`

func viewStrength(code, lot string, s calibrate.Strength) strengthView {
	return strengthView{code, lot, fig(math.Exp(s.Ln)), fig(math.Exp(s.Ln - 1.96*s.SD)), fig(math.Exp(s.Ln + 1.96*s.SD)), fig(s.Ln), fig(s.SD)}
}

// withLotsInUse is a calibration for the lots in use of some pigments, as far as
// their strength is known, and what is known of them.
func withLotsInUse(ctx context.Context, b *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, codes []string) (*calibrate.Calibration, map[string]calibrate.Strength, []string, error) {
	lots, err := lotsInUse(ctx, b, stored.Resin, codes)
	if err != nil {
		return nil, nil, nil, err
	}
	known, notes, err := strengthsOf(ctx, b, lots, stored, nil)
	if known = fitted(cal, known); err != nil || len(known) == 0 {
		return cal, nil, notes, err
	}
	for _, l := range lots {
		if s, counted := known[l.Code]; counted && l.Item == archive.OfPigment {
			notes = append(notes, fmt.Sprintf("%s lot %s is counted as %s", l.Code, l.Name, strengthText(s)))
		}
	}
	cal, err = cal.WithLots(known)
	return cal, known, notes, err
}
