package color

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ErrConditions says that two colours were read or computed under different
// illuminants or observers, so their numbers may not be compared.
var ErrConditions = errors.New("colours are under different conditions")

// Illuminant names a CIE illuminant of ISO/CIE 11664-2 or CIE 15:2018.
type Illuminant string

// The illuminants whose tables are embedded.
const (
	A     Illuminant = "A"
	C     Illuminant = "C"
	D50   Illuminant = "D50"
	D65   Illuminant = "D65"
	FL2   Illuminant = "FL2"
	FL7   Illuminant = "FL7"
	FL11  Illuminant = "FL11"
	LEDB1 Illuminant = "LED-B1"
	LEDB2 Illuminant = "LED-B2"
	LEDB3 Illuminant = "LED-B3"
	LEDB4 Illuminant = "LED-B4"
	LEDB5 Illuminant = "LED-B5"
)

// Illuminants lists every illuminant known here, in the order of the tables.
func Illuminants() []Illuminant {
	return []Illuminant{A, C, D50, D65, FL2, FL7, FL11, LEDB1, LEDB2, LEDB3, LEDB4, LEDB5}
}

// ParseIlluminant reads an illuminant name in any case. F11 means FL11, and
// LED_B3 or LEDB3 means LED-B3.
func ParseIlluminant(s string) (Illuminant, error) {
	for _, name := range Illuminants() { // as it is stored, at no cost
		if s == string(name) {
			return name, nil
		}
	}
	key := illuminantKey(s)
	for _, name := range Illuminants() {
		if known := illuminantKey(string(name)); key == known || "FL"+strings.TrimPrefix(key, "F") == known {
			return name, nil
		}
	}
	return "", fmt.Errorf("unknown illuminant %q; use one of %s", s, join(Illuminants()))
}

func illuminantKey(s string) string {
	return strings.NewReplacer("-", "", "_", "", " ", "").Replace(strings.ToUpper(s))
}

func join[T ~string](names []T) string {
	text := make([]string, len(names))
	for i, n := range names {
		text[i] = string(n)
	}
	return strings.Join(text, ", ")
}

// Observer is the field of a CIE standard colorimetric observer in degrees.
type Observer int

// The two standard observers of ISO/CIE 11664-1.
const (
	TwoDegree Observer = 2  // CIE 1931
	TenDegree Observer = 10 // CIE 1964
)

// ParseObserver reads "2" or "10" with or without a degree sign or "deg", and
// the year of the observer: "CIE 1931", "1964_10".
func ParseObserver(s string) (Observer, error) {
	var found Observer
	text := strings.NewReplacer("°", " ", "º", " ", "_", " ").Replace(strings.ToLower(s))
	for _, word := range strings.Fields(text) {
		o := Observer(0)
		for _, unit := range []string{"degrees", "degree", "deg"} {
			word = strings.TrimSuffix(word, unit)
		}
		switch strings.TrimSuffix(word, "-") {
		case "2", "1931":
			o = TwoDegree
		case "10", "1964":
			o = TenDegree
		case "", "cie", "standard", "observer":
			continue
		}
		if o == 0 || found != 0 && found != o {
			found = 0
			break
		}
		found = o
	}
	if found == 0 {
		return 0, fmt.Errorf("unknown observer %q; use 2 or 10 (degrees)", s)
	}
	return found, nil
}

// Condition is the illuminant and observer a colour is stated under. Its text
// form, also in JSON, is "D65/10".
type Condition struct {
	Illuminant Illuminant
	Observer   Observer
}

// D65Ten is the usual condition of surface colour work: D65, 10 degrees.
func D65Ten() Condition { return Condition{D65, TenDegree} }

// Under pairs an illuminant with an observer.
func Under(i Illuminant, o Observer) Condition { return Condition{i, o} }

// String gives "D65/10".
func (c Condition) String() string { return fmt.Sprintf("%s/%d", c.Illuminant, int(c.Observer)) }

// Check refuses a condition whose illuminant or observer is not in the tables.
func (c Condition) Check() error {
	if !slices.Contains(Illuminants(), c.Illuminant) {
		return fmt.Errorf("unknown illuminant %q; use one of %s", string(c.Illuminant), join(Illuminants()))
	}
	if c.Observer != TwoDegree && c.Observer != TenDegree {
		return fmt.Errorf("unknown observer %d; use 2 or 10 (degrees)", int(c.Observer))
	}
	return nil
}

// ParseCondition reads "D65/10": an illuminant, a slash, an observer.
func ParseCondition(s string) (Condition, error) {
	light, field, ok := strings.Cut(s, "/")
	if !ok {
		return Condition{}, fmt.Errorf("condition %q has no observer; write it as D65/10", s)
	}
	illuminant, err := ParseIlluminant(light)
	if err != nil {
		return Condition{}, err
	}
	observer, err := ParseObserver(field)
	if err != nil {
		return Condition{}, err
	}
	return Condition{illuminant, observer}, nil
}

// MarshalText writes "D65/10"; the zero condition writes nothing.
func (c Condition) MarshalText() ([]byte, error) {
	if c == (Condition{}) {
		return nil, nil
	}
	return []byte(c.String()), nil
}

// UnmarshalText reads what MarshalText wrote.
func (c *Condition) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*c = Condition{}
		return nil
	}
	parsed, err := ParseCondition(string(text))
	if err == nil {
		*c = parsed
	}
	return err
}

// same returns ErrConditions, naming both, unless x and y are one condition.
func same(x, y Condition) error {
	if x != y {
		return fmt.Errorf("%w: %s and %s; state both under one", ErrConditions, x, y)
	}
	return nil
}
