package readings

import "io"

// Kind is what a file holds.
type Kind string

// The kinds of file.
const (
	ChipsKind    Kind = "chips"    // readings with what was poured
	MixturesKind Kind = "mixtures" // loadings, perhaps with readings
	SamplesKind  Kind = "readings" // readings alone
	PigmentsKind Kind = "pigments" // a pigment list
)

// File is any file, understood.
type File struct {
	Kind     Kind
	Table    Table     // of all kinds but PigmentsKind
	Pigments []Pigment // of PigmentsKind
}

// Read reads any file this package knows and tells what it holds: a pigment
// list if there is a column of codes and no reading; chips if known pigments
// stand beside readings, backing and thickness; mixtures if known pigments
// stand there without; else readings. Errors as for Chips.
func Read(r io.Reader, o Options) (File, error) {
	if o.File == "" {
		o.File = "input"
	}
	o.anyKind = true
	s, err := openWith(r, &o, func(cells []string) int { return max(known(cells, &o), knownPigment(cells, &o)) })
	if err != nil {
		return File{}, wrap(err, o.File)
	}
	k := s.kind(&o)
	if k == PigmentsKind {
		list, err := pigmentList(s, &o)
		return File{Kind: k, Pigments: list}, err
	}
	by := map[Kind]kind{ChipsKind: chips, MixturesKind: mixtures, SamplesKind: samples}[k]
	if by == samples {
		o.Repeats = true
	}
	t, err := tabulate(s, &o, by)
	return File{Kind: k, Table: t}, err
}

func (s *sheet) kind(o *Options) Kind {
	has := map[role]bool{}
	for _, h := range s.header {
		has[understand(h, o).role] = true
	}
	columns := make([]column, len(s.header))
	for i, h := range s.header {
		columns[i] = understand(h, o)
	}
	reading := has[labColumn] || has[bandColumn] || otherSpaces(s.header, columns) != nil
	codes := false
	for _, h := range s.header {
		codes = codes || pigmentFieldOf(h, o) == codeField
	}
	backing := has[backingColumn] || o.Backing != "" || s.backing != ""
	thickness := has[thicknessColumn] || o.ThicknessMM != 0
	switch {
	case codes && !reading:
		return PigmentsKind
	case has[pigmentColumn] && reading && backing && thickness:
		return ChipsKind
	case has[pigmentColumn]:
		return MixturesKind
	}
	return SamplesKind
}
