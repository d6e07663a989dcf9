package archive

import (
	"context"
	"fmt"
	"sort"
	"strconv"
)

// A Stock is a pail of the pigmented side of a resin, tinted once and drawn
// from shot by shot; or with a Pigment a jar of a pre-dilution of it in that side.
type Stock struct {
	Name    string    `json:"name"`
	Resin   string    `json:"resin"`
	Recipe  string    `json:"recipe,omitempty"`  // Ref of the recipe it was tinted to
	Pigment string    `json:"pigment,omitempty"` // let down in it
	Lots    []LotName `json:"lots,omitempty"`    // of what a jar was stirred from
	MadeOn  string    `json:"made_on,omitempty"` // day a jar was stirred
	Note    string    `json:"note,omitempty"`
	Stamp   `json:"-"`
}

// Kinds of stock movement.
const (
	Tint    = "tint"    // lines went in: the side and its pigments
	Draw    = "draw"    // Grams came out, as mixed
	Correct = "correct" // lines went in to correct the colour
	Count   = "count"   // the pail was weighed: it holds Grams
)

// A StockMove is one movement of a stock by mass.
type StockMove struct {
	Stock string `json:"stock"`
	Kind  string `json:"kind"`
	Lines []Line `json:"lines,omitempty"` // of a tint or a correction
	// LetDown says what the lines are that came from a jar.
	LetDown []LetDown `json:"let_down,omitempty"`
	Grams   float64   `json:"grams,omitempty"` // of a draw or a count
	Pour    string    `json:"pour,omitempty"`  // Ref of the pour it was drawn for
	Note    string    `json:"note,omitempty"`
	Stamp   `json:"-"`
}

// A LetDown is a line of a pre-dilution: its pigment, the side it is let down in,
// and the share of paste in it.
type LetDown struct {
	Item    string  `json:"item"`
	Pigment string  `json:"pigment"`
	Side    string  `json:"side"`
	Share   float64 `json:"share"`
}

// letDown finds what a line is.
func (m *StockMove) letDown(item string) (LetDown, bool) {
	for _, d := range m.LetDown {
		if d.Item == item {
			return d, true
		}
	}
	return LetDown{}, false
}

// StockLevel is what a stock holds.
type StockLevel struct {
	Stock    Stock
	Grams    float64            // in all
	Contents map[string]float64 // grams by item
	Moves    []StockMove        // oldest first
}

// PutStock adds a stock, or with Replace supersedes its card.
func (b *Bench) PutStock(ctx context.Context, s Stock, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindStock, &s, on, s.Name)
	})
}

// MoveStock records a movement and returns what the stock holds after it. A
// draw of more than there is is refused.
func (b *Bench) MoveStock(ctx context.Context, m StockMove) (StockLevel, error) {
	fail := func(err error) (StockLevel, error) {
		return StockLevel{}, fmt.Errorf("stock %q: %w", m.Stock, err)
	}
	lines, err := weighed(m.Lines)
	if err != nil {
		return fail(err)
	}
	m.Lines = lines
	m.Grams = milligrams(m.Grams)
	if err := m.check(); err != nil {
		return StockLevel{}, err
	}
	if m.Kind == Draw || m.Kind == Count {
		m.Lines = nil
	}
	return write(ctx, b, func(c *change) (StockLevel, error) {
		level, err := stockLevel(ctx, c, m.Stock)
		if err != nil {
			return level, err
		}
		if err := level.apply(m); err != nil {
			return level, err
		}
		old, _, err := c.latest(ctx, kindStockMove, []any{m.Stock})
		if err != nil {
			return level, err
		}
		if err := c.insert(ctx, kindStockMove, old.sum, &m); err != nil {
			return level, err
		}
		level.Moves[len(level.Moves)-1] = m
		return level, c.log(ctx, "stock "+m.Kind, m.Stock, strconv.FormatFloat(level.Grams, 'f', -1, 64)+" g left")
	})
}

// Stocks lists the stocks by name.
func (b *Bench) Stocks(ctx context.Context) ([]Stock, error) {
	return read(ctx, b, func(tx *snapshot) ([]Stock, error) {
		return records[Stock](ctx, tx, kindStock, newest(kindStock)+" ORDER BY name")
	})
}

// StockLevel returns what a stock holds.
func (b *Bench) StockLevel(ctx context.Context, name string) (StockLevel, error) {
	return read(ctx, b, func(tx *snapshot) (StockLevel, error) { return stockLevel(ctx, tx, name) })
}

func stockLevel(ctx context.Context, q reader, name string) (StockLevel, error) {
	level := StockLevel{Contents: map[string]float64{}}
	var err error
	if level.Stock, err = find[Stock](ctx, q, kindStock, "stock", "name", name); err != nil {
		return level, err
	}
	moves, err := records[StockMove](ctx, q, kindStockMove, "WHERE stock = ? ORDER BY id", name)
	if err != nil {
		return level, err
	}
	for _, m := range moves {
		if err := level.apply(m); err != nil { // from an older program
			q.leaveOut(err)
		}
	}
	return level, nil
}

// apply takes a movement into account. What is drawn is as mixed as the rest.
// Grams is a sum of whole milligrams and stays one; the contents of a stock
// that was drawn from are shares of it.
func (s *StockLevel) apply(m StockMove) error {
	switch m.Kind {
	case Tint, Correct:
		for _, l := range m.Lines {
			if d, ok := m.letDown(l.Item); ok {
				s.Contents[d.Pigment] += l.Grams * d.Share
				s.Contents[d.Side] += l.Grams * (1 - d.Share)
			} else {
				s.Contents[l.Item] += l.Grams
			}
			s.Grams = milligrams(s.Grams + l.Grams)
		}
	case Draw:
		if m.Grams > s.Grams {
			return fmt.Errorf("stock %q: %w: it holds %.3f g, not %.3f g; weigh the pail and record a count", m.Stock, ErrInvalid, s.Grams, m.Grams)
		}
		s.scale(milligrams(s.Grams - m.Grams))
	case Count:
		if s.Grams == 0 && m.Grams > 0 {
			return fmt.Errorf("stock %q: %w: nothing went in yet; record a tint first", m.Stock, ErrInvalid)
		}
		s.scale(m.Grams)
	}
	s.Moves = append(s.Moves, m)
	return nil
}

func (s *StockLevel) scale(grams float64) {
	share := 0.0
	if s.Grams > 0 {
		share = grams / s.Grams
	}
	for item := range s.Contents {
		s.Contents[item] *= share
	}
	s.Grams = grams
}

// Items lists what the stock holds, most first.
func (s StockLevel) Items() []Line {
	lines := make([]Line, 0, len(s.Contents))
	for item, grams := range s.Contents {
		lines = append(lines, Line{item, grams})
	}
	sort.Slice(lines, func(i, j int) bool {
		if lines[i].Grams != lines[j].Grams {
			return lines[i].Grams > lines[j].Grams
		}
		return lines[i].Item < lines[j].Item
	})
	return lines
}
