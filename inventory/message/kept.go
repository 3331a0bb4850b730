package message

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// keptMark begins a message in a database. Texts without it were kept as they
// are: nobody can type a record separator.
const keptMark = "\x1e"

// Keep writes a message so that Kept reads its key and arguments again.
func (m Message) Keep() string {
	if text, ok := m.Arg(1).(string); m == nil || ok && m.Key() == "{1}" {
		return text
	}
	b, _ := json.Marshal(m.toKeep()) // texts and numbers, as M takes them
	return keptMark + string(b)
}

func (m Message) toKeep() (parts []any) {
	for _, p := range m {
		switch v := p.value.(type) {
		case Message:
			parts = append(parts, v.toKeep())
		case interface{ Date() (int, time.Month, int) }:
			parts = append(parts, map[string]string{"day": fmt.Sprint(v)})
		default:
			parts = append(parts, v)
		}
	}
	return parts
}

// Kept reads what Keep wrote. Any other text is one that stays as it is.
func Kept(s string) Message {
	var parts []any
	body, marked := strings.CutPrefix(s, keptMark)
	if !marked || json.Unmarshal([]byte(body), &parts) != nil {
		return Plain(s)
	}
	return kept(parts)
}

func kept(parts []any) (m Message) {
	for _, v := range parts {
		switch is := v.(type) {
		case float64:
			v = int(is)
		case []any:
			v = kept(is)
		case map[string]any:
			t, _ := time.Parse(time.DateOnly, fmt.Sprint(is["day"]))
			v = day{t}
		}
		m = append(m, part{v})
	}
	return m
}

// day is a day that was kept.
type day struct{ time.Time }

func (d day) String() string { return d.Format(time.DateOnly) }
