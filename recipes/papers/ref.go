package papers

import (
	"fmt"
	"net/url"
	"strings"
)

// A Ref finds a thing of the bench again: its kind and its names from the
// widest to the closest, such as chip, CLR, RD0.2-WH1-black. As text it is
// masstone:chip/CLR/RD0.2-WH1-black, with what a path cannot hold escaped
// (RFC 3986), so it is always plain ASCII.
type Ref struct {
	Kind  string
	Names []string
}

// The kinds this package makes codes of. Others are read as well.
const (
	BatchRef   = "batch"
	RecipeRef  = "recipe"
	PourRef    = "pour"
	TargetRef  = "target"
	ChipRef    = "chip"
	PigmentRef = "pigment"
	ResinRef   = "resin"
	PlanRef    = "plan"
	RunRef     = "run"
)

const scheme = "masstone:"

// longestRef keeps a code's squares large enough to be read off a label.
const longestRef = 200

// RefTo is a reference of that kind. Without names it is none.
func RefTo(kind string, names ...string) Ref { return Ref{kind, names} }

// None tells whether there is nothing to refer to.
func (r Ref) None() bool { return len(r.Names) == 0 }

// String is the text that is encoded, empty for none.
func (r Ref) String() string {
	if r.None() {
		return ""
	}
	parts := []string{url.PathEscape(r.Kind)}
	for _, n := range r.Names {
		parts = append(parts, url.PathEscape(n))
	}
	return scheme + strings.Join(parts, "/")
}

// MarshalText writes String.
func (r Ref) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (r *Ref) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*r = Ref{}
		return nil
	}
	parsed, err := ParseRef(string(text))
	if err == nil {
		*r = parsed
	}
	return err
}

// IsRef tells whether a word is meant as a code of this program.
func IsRef(s string) bool { return strings.HasPrefix(strings.TrimSpace(s), scheme) }

// ParseRef reads the text of a code, as a scanner types it.
func ParseRef(s string) (Ref, error) {
	bad := func(why string) (Ref, error) {
		return Ref{}, fmt.Errorf("code %q %s: a code of this program is such as masstone:batch/B7", s, why)
	}
	path, ours := strings.CutPrefix(strings.TrimSpace(s), scheme)
	if !ours {
		return bad("does not start with " + scheme)
	}
	parts := strings.Split(path, "/")
	if len(parts) < 2 {
		return bad("has no name")
	}
	for i, p := range parts {
		name, err := url.PathUnescape(p)
		if err != nil || name == "" {
			return bad("has a part that cannot be read")
		}
		parts[i] = name
	}
	return Ref{parts[0], parts[1:]}, nil
}

func (r Ref) check() error {
	if r.None() {
		return nil
	}
	for _, n := range append([]string{r.Kind}, r.Names...) {
		if n == "" {
			return fmt.Errorf("papers: code %s: a part of it is empty: name it", r)
		}
	}
	if n := len(r.String()); n > longestRef {
		return fmt.Errorf("papers: code %.40s… has %d letters: at most %d fit a code that a label can carry; shorten the name", r, n, longestRef)
	}
	return nil
}
