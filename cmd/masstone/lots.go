package main

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// pigmentLot names a lot of a pigment.
func pigmentLot(code, lot string) archive.LotName {
	return archive.LotName{Item: archive.OfPigment, Code: code, Name: lot}
}

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

// namedLots reads CODE=LOT flags. A code may be that of a pigment or a resin.
func namedLots(ctx context.Context, b *archive.Bench, texts []string) ([]archive.LotName, error) {
	var out []archive.LotName
	for _, text := range texts {
		for part := range strings.SplitSeq(text, ",") {
			code, lot, found := strings.Cut(part, "=")
			code, lot = strings.TrimSpace(code), strings.TrimSpace(lot)
			if !found || code == "" || lot == "" {
				return nil, misusef("--lot %q: is no lot; write CODE=LOT, such as RD=L123", part)
			}
			item, err := itemOf(ctx, b, code)
			if err != nil {
				return nil, err
			}
			if lotOf(out, item, code) != "" {
				return nil, misusef("--lot %q: names %s twice; one lot each goes into a pour", part, code)
			}
			out = append(out, archive.LotName{Item: item, Code: code, Name: lot})
		}
	}
	return out, nil
}

// itemOf tells whether a code is that of a pigment or of a resin.
func itemOf(ctx context.Context, b *archive.Bench, code string) (string, error) {
	resins, err := b.Resins(ctx)
	if err != nil {
		return "", err
	}
	pigments, err := pigmentCodes(ctx, b)
	if err != nil {
		return "", err
	}
	isResin := slices.ContainsFunc(resins, func(r archive.Resin) bool { return r.Code == code })
	switch isPigment := slices.Contains(pigments, code); {
	case isPigment && isResin:
		return "", fmt.Errorf("%s is the code of a pigment and of a resin; replace one of the two cards by one of another code", code)
	case isPigment:
		return archive.OfPigment, nil
	case isResin:
		return archive.OfResin, nil
	}
	var all []string
	for _, r := range resins {
		all = append(all, r.Code)
	}
	return "", fmt.Errorf("unknown pigment or resin %q; the bench has %s", code, listed(append(pigments, all...)))
}

// viewStrengths lists the lots in use whose strength a calibration counts.
func viewStrengths(ctx context.Context, b *archive.Bench, resin string, belief *keptBelief) ([]strengthView, error) {
	views := []strengthView{}
	if belief == nil {
		return views, nil
	}
	lots, err := lotsInUse(ctx, b, resin, slices.Collect(maps.Keys(belief.Lots)))
	for _, code := range slices.Sorted(maps.Keys(belief.Lots)) {
		views = append(views, viewStrength(code, lotOf(lots, archive.OfPigment, code), belief.Lots[code]))
	}
	return views, err
}

// lotsView lists lots by code in JSON.
func lotsView(lots []archive.LotName) map[string]string {
	out := map[string]string{}
	for _, l := range lots {
		out[l.Code] = l.Name
	}
	return out
}

func lotsText(lots []archive.LotName) string {
	var parts []string
	for _, l := range lots {
		parts = append(parts, l.Code+" "+l.Name)
	}
	return listed(parts)
}

// withLotsInUse is a calibration for the lots in use of some pigments, as far as
// their strength is known, and what to keep of that with a recipe (nil if
// nothing is known).
func withLotsInUse(ctx context.Context, b *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, codes []string) (*calibrate.Calibration, *keptBelief, []string, error) {
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
	return cal, &keptBelief{Lots: known}, notes, err
}
