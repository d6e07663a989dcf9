package recipes

import (
	"math"
	"slices"
	"sync"
)

// A found is a solved subset: its pigments as positions in the bench, its
// loadings and F.
type found struct {
	n     int
	at    [MaxPerRecipe]int
	c     [MaxPerRecipe]float64
	value float64
	f     float64
}

// A shortlist keeps the best sets found, best first and each once: a pigment
// that a recipe holds none of makes no set of its own.
type shortlist struct {
	keep  int
	mutex sync.Mutex
	items []found
}

// limit is what F must beat to be worth keeping.
func (l *shortlist) limit() float64 {
	limit := math.Inf(1)
	if len(l.items) > 0 {
		limit = near(l.items[0].value)
	}
	if len(l.items) == l.keep {
		limit = math.Min(limit, l.items[l.keep-1].value)
	}
	return limit
}

// near is how much worse than the best F a subset may be and still be worth
// telling: it may be cheaper, or hold fewer pigments.
func near(best float64) float64 { return 2.2*best + 0.15 }

func (l *shortlist) add(f found) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	i := slices.IndexFunc(l.items, func(g found) bool { return g.at == f.at })
	switch {
	case i >= 0:
	case len(l.items) < l.keep:
		i = len(l.items)
		l.items = append(l.items, found{value: math.Inf(1)})
	default:
		i = len(l.items) - 1
	}
	if f.value >= l.items[i].value {
		return
	}
	l.items[i] = f
	for ; i > 0 && l.items[i].value < l.items[i-1].value; i-- {
		l.items[i], l.items[i-1] = l.items[i-1], l.items[i]
	}
}
