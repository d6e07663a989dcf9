package archive

import (
	"slices"
	"sync"
)

// makings are what was made of the records that were last asked for. A record is
// known by its Ref, the checksum of what it says, so that what was made of it
// holds as long as the program runs.
type makings struct {
	mu    sync.Mutex
	of    map[any]any
	order []any // of the keys, the last used at the end
}

func newMakings() *makings { return &makings{of: map[any]any{}} }

// made names what was made of a record: one thing of each type.
type made[T any] struct{ ref string }

// mostMade is how many things are kept: enough for the calibrations that people
// work with at once.
const mostMade = 16

func (m *makings) get(key any) (any, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v, is := m.of[key]
	if is {
		m.order = append(slices.DeleteFunc(m.order, func(k any) bool { return k == key }), key)
	}
	return v, is
}

func (m *makings) put(key, v any) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, is := m.of[key]; !is {
		m.order = append(m.order, key)
	}
	m.of[key] = v
	for len(m.order) > mostMade {
		delete(m.of, m.order[0])
		m.order = slices.Delete(m.order, 0, 1)
	}
}

// Made gives what make makes of the record with a Ref, and keeps it with the open
// bench, so that what takes long is not made anew for everybody who asks. It is
// shared: nobody may change it, and make may use nothing but the record.
func Made[T any](b *Bench, ref string, make func() (T, error)) (T, error) {
	key := made[T]{ref}
	if v, is := b.made.get(key); is {
		return v.(T), nil
	}
	v, err := make()
	if err == nil {
		b.made.put(key, v)
	}
	return v, err
}
