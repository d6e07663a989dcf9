package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
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

// lotNames are the lots in use by pigment code, and by side of the resin.
func lotNames(ctx context.Context, b *archive.Bench, r archive.Recipe) (map[string]string, error) {
	lots, err := lotsInUse(ctx, b, r.Resin, codesOf(r))
	names := map[string]string{}
	for _, l := range lots {
		if l.Item == archive.OfResin {
			names["A"], names["B"] = l.Name, l.Name
			continue
		}
		names[l.Code] = l.Name
	}
	return names, err
}

// How far the own colour of a resin may differ from lot to lot, and how much further
// it may have moved a year after it was last looked at, since side A yellows with
// age: standard deviations of the ln of its strength. Common practice, no source.
const (
	baseDrift   = 0.5
	baseYearsSD = 0.3
)

// aged is what is known of the own colour of a resin lot some time after it was
// learnt: a random walk.
func aged(s calibrate.Strength, since time.Duration) calibrate.Strength {
	const year = 365.25 * 24 * time.Hour
	s.SD = math.Hypot(s.SD, baseYearsSD*math.Sqrt(math.Max(0, float64(since)/float64(year))))
	return s
}

// strengthsOf is what is believed of lots against a calibration, by code of the
// pigment, "" for the resin. What
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
		if !slices.Contains(lots, name) {
			continue
		}
		if slices.ContainsFunc(s.Evidence, func(ref string) bool { return slices.Contains(without, ref) }) {
			continue
		}
		if s.Calibration != stored.Ref {
			notes = append(notes, fmt.Sprintf("the strength of %s lot %s was learnt against another calibration than %s and is not counted; learn it again", s.Code, s.Lot, stored.Name()))
			continue
		}
		believed := calibrate.Strength{Ln: s.LnStrength, SD: s.SD}
		if s.Item == archive.OfResin {
			known[""] = aged(believed, b.Now().Sub(s.At))
			continue
		}
		known[s.Code] = believed
	}
	return known, notes, nil
}

// otherLot says in which lot of a pigment or of the resin two pours differ, as far as
// both are known.
func otherLot(a, b []archive.LotName) string {
	for _, l := range a {
		if now := lotOf(b, l.Item, l.Code); now != "" && now != l.Name {
			return fmt.Sprintf("it was poured with %s lot %s, not %s", l.Code, l.Name, now)
		}
	}
	return ""
}

// lotsByCode lists lots by code in JSON.
func lotsByCode(lots []archive.LotName) map[string]string {
	out := map[string]string{}
	for _, l := range lots {
		out[l.Code] = l.Name
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

// countedAs says as how strong a lot is counted.
func countedAs(s calibrate.Strength) string {
	return "counted as " + strings.TrimPrefix(strengthText(s), "as ")
}

// A LotStrength is how strong a pigment lot is against the one calibrated.
type LotStrength struct {
	Code     string        `json:"code"`
	Lot      string        `json:"lot,omitempty"`
	Strength figure.Number `json:"strength" doc:"1 as calibrated"`
	Low95    figure.Number `json:"low95"`
	High95   figure.Number `json:"high95"`
	Ln       figure.Number `json:"ln_strength"`
	SD       figure.Number `json:"sd_ln"`
}

func strengthOf(code, lot string, s calibrate.Strength) LotStrength {
	return LotStrength{code, lot, figure.Number(math.Exp(s.Ln)), figure.Number(math.Exp(s.Ln - 1.96*s.SD)), figure.Number(math.Exp(s.Ln + 1.96*s.SD)), figure.Number(s.Ln), figure.Number(s.SD)}
}

// String says how strong the lot is: 12 % stronger (95 %: +6 to +18 %).
func (s LotStrength) String() string {
	return strengthText(calibrate.Strength{Ln: float64(s.Ln), SD: float64(s.SD)})
}
