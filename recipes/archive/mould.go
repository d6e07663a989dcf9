package archive

import "context"

// What a silicone is cured by.
const (
	PlatinumCured = "platinum"
	TinCured      = "tin"
)

// A Mould is what parts are cast in.
type Mould struct {
	Name          string  `json:"name"` // as written on it
	Client        string  `json:"client,omitempty"`
	Part          string  `json:"part,omitempty"`
	Cavities      int     `json:"cavities"`
	CavityML      float64 `json:"cavity_ml,omitempty"`      // each
	Silicone      string  `json:"silicone,omitempty"`       // product
	Cure          string  `json:"cure,omitempty"`           // PlatinumCured, TinCured, or not known
	SiliconeGrams float64 `json:"silicone_grams,omitempty"` // both sides
	SiliconeLot   string  `json:"silicone_lot,omitempty"`   // as on its label
	Release       string  `json:"release,omitempty"`        // agent used
	MadeOn        string  `json:"made_on,omitempty"`        // day
	ShotsBefore   int     `json:"shots_before,omitempty"`   // cast in it before this bench counted
	ExpectedShots int     `json:"expected_shots,omitempty"` // its life; 0 if not known
	Retired       string  `json:"retired,omitempty"`        // why it is used no more
	Note          string  `json:"note,omitempty"`

	// ThicknessSD is by how much castings of it miss their thickness, mm; nil if not known.
	ThicknessSD *float64 `json:"thickness_sd,omitempty"`

	Stamp `json:"-"`
}

// PutMould adds a mould, or with Replace supersedes its card. A client or part it
// names for the first time is added too.
func (b *Bench) PutMould(ctx context.Context, m Mould, on OnChange) (Outcome, error) {
	if err := m.check(); err != nil { // before its client is introduced
		return "", err
	}
	return write(ctx, b, func(c *change) (Outcome, error) {
		if err := c.introduce(ctx, m.Client, m.Part); err != nil {
			return "", err
		}
		return c.putLogged(ctx, kindMould, &m, on, m.Name)
	})
}

// Moulds lists the moulds by name.
func (b *Bench) Moulds(ctx context.Context) ([]Mould, error) {
	return read(ctx, b, func(tx *snapshot) ([]Mould, error) {
		return records[Mould](ctx, tx, kindMould, newest(kindMould)+" ORDER BY name")
	})
}

// Mould returns a mould by its name.
func (b *Bench) Mould(ctx context.Context, name string) (Mould, error) {
	return read(ctx, b, func(tx *snapshot) (Mould, error) {
		return find[Mould](ctx, tx, kindMould, "mould", "name", name)
	})
}

// CupsOfMould lists the cups cast in a mould, oldest first.
func (b *Bench) CupsOfMould(ctx context.Context, name string) ([]RunCup, error) {
	return read(ctx, b, func(tx *snapshot) ([]RunCup, error) {
		return records[RunCup](ctx, tx, kindRunCup, "WHERE mould = ? ORDER BY id", name)
	})
}
