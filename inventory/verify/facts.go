package verify

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"stowkeeper/inventory"
)

// row names a row of a table.
type row struct{ table, key string }

func (r row) String() string {
	return r.table + " " + strings.NewReplacer(`"`, "", "[", "", "]", "", ",", " ").Replace(r.key)
}

// said is what the newest entry that tells of a row says of it, or what the movements do.
type said struct {
	sum   [sha256.Size]byte
	gone  bool
	entry int64 // id of the entry
	chain string
	seq   int64
	form  string // where no entry holds it
}

// entries walks the chains in order: every link is recomputed, and what is said
// last of each row is kept for facts to compare.
func (v *verifier) entries() error {
	heads, err := v.r.Heads()
	if err != nil {
		return err
	}
	ends, kept := map[string]inventory.Head{}, map[inventory.Head]bool{}
	for _, h := range v.kept {
		kept[h] = true
	}
	var last inventory.ChainEntry
	err = v.r.ChainEntries(inventory.ChainFilter{}, func(e inventory.ChainEntry) error {
		v.Entries++
		if e.Chain != last.Chain {
			last = inventory.ChainEntry{Chain: e.Chain}
		}
		v.entry(last, e)
		last = e
		end := inventory.Head{Station: e.Chain, Seq: e.Seq, Hash: e.Hash}
		ends[e.Chain] = end
		delete(kept, end)
		return nil
	})
	for _, h := range heads {
		if end := ends[h.Station]; end.Seq != h.Seq || end.Hash != h.Hash {
			v.fault(h.Station, 0, "the chain %s ends at entry %d, its head says entry %d: entries at the end are missing or "+
				"altered", h.ChainName(), end.Seq, h.Seq)
		}
		delete(ends, h.Station)
	}
	for _, chain := range slices.Sorted(maps.Keys(ends)) {
		v.fault(chain, 0, "the chain %s has entries, and there is no such station", ends[chain].ChainName())
	}
	for _, h := range v.kept {
		if kept[h] {
			v.fault(h.Station, 0, "the chain %s has no entry %d with the hash that was kept elsewhere: it was cut or made again",
				h.ChainName(), h.Seq)
		}
	}
	return err
}

// entry checks one link of a chain against the one before it.
func (v *verifier) entry(last, e inventory.ChainEntry) {
	name := fmt.Sprintf("history_entry %d, number %d of chain %s", e.ID, e.Seq,
		inventory.Head{Station: e.Chain}.ChainName())
	if e.Seq != last.Seq+1 {
		v.fault(e.Chain, 0, "%s: %d should stand here: an entry before it is missing or was put in", name, last.Seq+1)
	}
	if inventory.EntryHash(last.Hash, e.Form) != e.Hash {
		v.fault(e.Chain, 0, "%s: it does not fit its hash, or not the entry before it: one of them was altered", name)
	}
	if e.ID <= last.ID {
		v.fault(e.Chain, 0, "%s: its id stands before that of the entry which it follows", name)
	}
	for _, f := range e.Facts {
		k := row{f.Table, f.Key}
		if old, ok := v.newest[k]; ok && old.entry > e.ID {
			continue
		}
		s := said{entry: e.ID, chain: e.Chain, seq: e.Seq, gone: f.Gone(), sum: sha256.Sum256([]byte(f.Image))}
		if f.Sum != "" {
			_, _ = hex.Decode(s.sum[:], []byte(f.Sum))
		}
		if f.Table == inventory.LateMovements {
			s.form = f.Image
		}
		v.newest[k] = s
	}
}

// late is how many movements of a station are from before the chains of entries, and the hash of the last.
func (v *verifier) late(station string) (seq int64, hash string) {
	k := row{inventory.LateMovements, inventory.ListForm(station)}
	var h struct {
		Seq  int64  `json:"seq"`
		Hash string `json:"hash"`
	}
	if s, ok := v.newest[k]; ok && json.Unmarshal([]byte(s.form), &h) == nil {
		delete(v.newest, k)
	}
	return h.Seq, h.Hash
}

// expect says what a row must be that no entry tells of.
func (v *verifier) expect(table string, key []any, names []string, values []any) {
	form := inventory.Form(names, values)
	v.newest[row{table, inventory.ListForm(key...)}] = said{sum: sha256.Sum256([]byte(form)), form: form}
}

// facts compares each row with what was last said of it.
func (v *verifier) facts() error {
	v.expectBalances()
	bad := map[row]string{}
	events := map[string]int64{}
	err := v.r.Facts(func(f inventory.Fact) error {
		v.Facts++
		k := row{f.Table, f.Key}
		s, told := v.newest[k]
		delete(v.newest, k)
		switch {
		case !told:
			v.fault("", 0, "%s: nothing tells of it: it was put in, or what told of it is missing", k)
		case s.gone || s.sum != sha256.Sum256([]byte(f.Form)):
			v.newest[k], bad[k] = s, f.Form
		}
		if f.Table == "bag_event" {
			var key [2]any
			if json.Unmarshal([]byte(f.Key), &key) == nil {
				events[fmt.Sprint(key[0])]++
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	byName := func(a, b row) int { return strings.Compare(a.String(), b.String()) }
	for _, k := range slices.SortedFunc(maps.Keys(v.newest), byName) {
		if now, there := bad[k]; there {
			v.altered(k, v.newest[k], now)
		} else if !v.newest[k].gone {
			v.fault("", 0, "%s: it is missing", k)
		}
	}
	return v.positions(events)
}

// altered names a row that is not what was last said of it, and the columns where they are known.
func (v *verifier) altered(k row, s said, now string) {
	was := s.form
	if was == "" && v.looked < mostLooked {
		v.looked++
		at := inventory.ChainFilter{Chain: &s.chain, From: s.seq, To: s.seq}
		_ = v.r.ChainEntries(at, func(e inventory.ChainEntry) error {
			for _, f := range e.Facts {
				if f.Table == k.table && f.Key == k.key {
					was = f.Image
				}
			}
			return nil
		})
	}
	var before, after map[string]json.RawMessage
	if json.Unmarshal([]byte(was), &before) != nil || json.Unmarshal([]byte(now), &after) != nil {
		v.fault("", 0, "%s: it was altered", k)
		return
	}
	var columns []string
	for c := range after {
		if string(before[c]) != string(after[c]) {
			columns = append(columns, c)
		}
	}
	for c := range before {
		if _, there := after[c]; !there {
			columns = append(columns, c)
		}
	}
	slices.Sort(columns)
	v.fault("", 0, "%s: %s altered", k, strings.Join(columns, ", "))
}

// mostLooked is of how many altered rows the columns are named.
const mostLooked = 100

// expectBalances says what the balances must be by the movements.
func (v *verifier) expectBalances() {
	names := []string{"batch_id", "device", "lot_id", "place", "qty"}
	for k, n := range v.balances {
		if n == 0 {
			continue
		}
		b := v.lots[k.Lot].Batch
		device := int64(0)
		if b.Serial != "" {
			device = 1
		}
		v.expect("balance", []any{k.Place, k.Lot}, names, []any{b.ID, device, k.Lot, k.Place, int64(n)})
		v.Balances++
	}
}

// positions compares the position of each bag with how often something moved it on.
func (v *verifier) positions(events map[string]int64) error {
	bags, err := v.r.Bags(inventory.BagFilter{Retired: true}, inventory.Page{})
	for _, b := range bags {
		if b.Position != events[b.Code] {
			v.fault(b.AtStation, 0, "bag %s: its position is %d, and %d things moved it on", b.Code, b.Position, events[b.Code])
		}
	}
	return err
}
