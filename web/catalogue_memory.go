package web

import "sync"

// remembered is how many texts a catalogue remembers the translation of, since
// the same ones stand on most pages.
const remembered = 20_000

// asked is a text, and whether it is a whole or a part of one.
type asked struct {
	text  string
	whole bool
}

// memory keeps what has been translated.
type memory struct {
	mu   sync.Mutex
	said map[asked]string
}

func (m *memory) get(a asked) (string, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	said, ok := m.said[a]
	return said, ok
}

func (m *memory) keep(a asked, said string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.said) >= remembered || m.said == nil {
		m.said = map[asked]string{}
	}
	m.said[a] = said
}
