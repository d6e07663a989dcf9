package castplan

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// A Paste is what is known of a pigment's colour, coarsely, before a calibration.
type Paste struct {
	Code string
	Kind PasteKind
	Hue  float64 // of a coloured one let down in white, degrees
}

// PasteKind is what kind of colour a paste has.
type PasteKind string

// The kinds. Of an unknown paste nothing is known.
const (
	UnknownPaste  PasteKind = ""
	WhitePaste    PasteKind = "white"
	DarkPaste     PasteKind = "black or grey"
	ColouredPaste PasteKind = "coloured"
)

// grey is the chroma up to which a tint counts as that of a black or a grey, and
// light the L* from which it is a white. Common practice, no source.
const (
	greyChroma = 7
	lightWhite = 80
)

// PasteOfTint judges a paste by a reading of it let down in white, or of its
// masstone where that has a hue.
func PasteOfTint(code string, lab color.Lab) Paste {
	p := Paste{Code: code, Kind: ColouredPaste, Hue: hueOf(lab)}
	if math.Hypot(lab.A, lab.B) < greyChroma {
		p.Kind, p.Hue = DarkPaste, 0
		if lab.L >= lightWhite {
			p.Kind = WhitePaste
		}
	}
	return p
}

// PasteOf judges a paste by a calibration that knows it, of whatever resin: let
// down in its white or, without one, thin over white.
func PasteOf(c *calibrate.Calibration, code string) (Paste, error) {
	whites, err := Whites(c)
	if err != nil {
		return Paste{}, err
	}
	if slices.Contains(whites, code) {
		return Paste{Code: code, Kind: WhitePaste}, nil
	}
	mix := map[string]calibrate.PHR{code: c.Curves[c.Index(code)].MaxPHR / 5}
	if len(whites) > 0 {
		mix[whites[0]] = c.Curves[c.Index(whites[0])].MaxPHR
	}
	p, err := c.Predict(calibrate.Sample{Loadings: mix, Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: color.SpecularIncluded}}, c.Main)
	if err != nil {
		return Paste{}, err
	}
	return PasteOfTint(code, p.Colors[0].Lab), nil
}

// colourIndex is a Colour Index generic name: PR254, Pigment Red 254.
var colourIndex = regexp.MustCompile(`(?i)^\s*(?:P(W|BK|BR|Y|O|R|V|B|G)|pigment\s+(white|black|brown|yellow|orange|red|violet|blue|green))\s*[.:]?\s*([0-9]+)`)

// tintHues are the usual hue angles (D65, 10 degrees) of tints in white by what
// the Colour Index calls a pigment; those of the few well-known ones that stand
// apart go by number. From memory.
var tintHues = map[string]float64{"y": 90, "o": 55, "r": 20, "v": 320, "b": 260, "g": 175, "br": 60,
	"y42": 75, "y24": 80, "y119": 70, "r101": 45, "r102": 45, "r122": 345, "r202": 345, "r264": 10, "v19": 0, "b15": 245, "b29": 280, "b28": 265, "g17": 140, "g36": 160, "br7": 65}

// PasteByName judges a paste by its Colour Index generic name or, without one, by
// the last word for a colour in its plain name.
func PasteByName(code, ciName, name string) Paste {
	p := Paste{Code: code}
	words := map[string]string{"yellow": "y", "orange": "o", "red": "r", "violet": "v", "blue": "b", "green": "g", "brown": "br", "white": "w", "black": "bk"}
	m := colourIndex.FindStringSubmatch(ciName)
	if m == nil {
		for _, word := range strings.Fields(strings.ToLower(name)) {
			switch letter := words[word]; letter {
			case "":
			case "bk":
				p.Kind, p.Hue = DarkPaste, 0
			case "w":
				p.Kind, p.Hue = WhitePaste, 0
			default:
				p.Kind, p.Hue = ColouredPaste, tintHues[letter]
			}
		}
		return p
	}
	letter := strings.ToLower(m[1])
	if letter == "" {
		letter = words[strings.ToLower(m[2])]
	}
	number, err := strconv.Atoi(m[3])
	switch {
	case err != nil:
		return p
	case letter == "bk":
		p.Kind = DarkPaste
	case letter == "w":
		if WhiteByName(ciName) {
			p.Kind = WhitePaste
		}
	default:
		p.Kind, p.Hue = ColouredPaste, tintHues[letter]
		if hue, apart := tintHues[letter+strconv.Itoa(number)]; apart {
			p.Hue = hue
		}
	}
	return p
}

// neutral is the chroma below which a target asks for colours of opposite hues
// rather than for the neighbours of its own. Common practice, no source.
const neutralTarget = 8

// Likely lists the pastes that a target is likely made of, but for those that are
// cast already: a white, a black, and of the coloured ones that next to the target's
// hue on either side; near grey, those nearest to it and to its opposite. They are in
// the order of pastes. Of the whites and blacks the first counts. A paste that is not
// known is not among them.
func Likely(target color.Lab, pastes []Paste, cast []string) []string {
	take := map[string]bool{}
	for _, kind := range []PasteKind{WhitePaste, DarkPaste} {
		if i := slices.IndexFunc(pastes, func(p Paste) bool { return p.Kind == kind }); i >= 0 {
			take[pastes[i].Code] = true
		}
	}
	for _, code := range cast {
		take[code] = true
	}
	hue := hueOf(target)
	// nearest takes the coloured paste that is nearest by a measure, of those below 180
	nearest := func(measure func(turn float64) float64) {
		best, code := 180.0, ""
		for _, p := range pastes {
			if p.Kind != ColouredPaste || take[p.Code] {
				continue
			}
			if d := measure(turnOf(hue, p.Hue)); d < best {
				best, code = d, p.Code
			}
		}
		if code != "" {
			take[code] = true
		}
	}
	if math.Hypot(target.A, target.B) < neutralTarget {
		nearest(math.Abs)
		nearest(func(turn float64) float64 { return 180 - math.Abs(turn) })
	} else {
		nearest(aside)
		nearest(func(turn float64) float64 { return aside(-turn) })
	}
	var out []string
	for _, p := range pastes {
		if take[p.Code] && !slices.Contains(cast, p.Code) {
			out = append(out, p.Code)
		}
	}
	return out
}

// farthestNeighbour is how far from its hue a paste still helps a target. Common
// practice, no source.
const farthestNeighbour = 120

// aside measures how far a paste lies on the positive side.
func aside(turn float64) float64 {
	if turn < 0 || turn > farthestNeighbour {
		return 180
	}
	return turn
}

func hueOf(lab color.Lab) float64 { return math.Atan2(lab.B, lab.A) * 180 / math.Pi }

// turnOf is the turn from one hue to another, above -180 to 180 degrees.
func turnOf(from, to float64) float64 {
	turn := math.Mod(to-from, 360)
	switch {
	case turn > 180:
		return turn - 360
	case turn <= -180:
		return turn + 360
	}
	return turn
}
