package auth

import "time"

// expiring is a map of at most keysKept values, each of which ends. Its zero value
// is empty.
type expiring[V any] struct {
	entries map[string]entry[V]
}

type entry[V any] struct {
	value V
	ends  time.Time
}

// find returns the value of a key and when it ends, or zeros if it has ended.
func (m *expiring[V]) find(key string, now time.Time) (V, time.Time) {
	e, ok := m.entries[key]
	if !ok || !now.Before(e.ends) {
		return *new(V), time.Time{}
	}
	return e.value, e.ends
}

// get returns the value of a key and whether there is one that has not ended.
func (m *expiring[V]) get(key string, now time.Time) (V, bool) {
	v, ends := m.find(key, now)
	return v, !ends.IsZero()
}

// put keeps a value until it ends.
func (m *expiring[V]) put(key string, value V, ends, now time.Time) {
	if m.entries == nil {
		m.entries = map[string]entry[V]{}
	}
	if _, there := m.entries[key]; !there && len(m.entries) >= keysKept {
		m.makeRoom(now)
	}
	m.entries[key] = entry[V]{value, ends}
}

func (m *expiring[V]) drop(key string) { delete(m.entries, key) }

// sample is how many entries makeRoom looks at: few, since it runs for each new
// key while the map is full.
const sample = 64

// makeRoom forgets what has ended among a few entries, which Go picks at random,
// or else the one of them that ends first.
func (m *expiring[V]) makeRoom(now time.Time) {
	var first string
	var soonest time.Time

	seen, before := 0, len(m.entries)
	for key, e := range m.entries {
		if !now.Before(e.ends) {
			delete(m.entries, key)
		} else if soonest.IsZero() || e.ends.Before(soonest) {
			first, soonest = key, e.ends
		}
		if seen++; seen == sample {
			break
		}
	}

	if len(m.entries) == before {
		delete(m.entries, first)
	}
}
