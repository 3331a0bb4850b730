package store

import (
	"cmp"
	"database/sql"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

type reportedRow struct {
	ID                 int64
	CheckID, UseID     ref
	Place, Kind        string
	Item               code
	LotID              ref
	Qty, Settled, Pool int
	Note               string
}

// UnderReview returns the reports that nobody has decided yet, with what they say, in one statement.
func (r reader) UnderReview(f inventory.UnderReviewFilter) ([]inventory.UnderReview, error) {
	var texts []string
	var args []any
	for _, of := range []struct {
		kind string
		id   int64
	}{{"check", f.Of.CheckID}, {"use", f.Of.UseID}} {
		if of.id == 0 && f.Of != (inventory.ReportKey{}) {
			continue
		}
		var w where
		narrowReported(&w, f)
		given(&w, "c.id = ?", of.id)
		texts = append(texts, "SELECT '"+of.kind+"', c.id, c.bag, c.by_name, c.sent_by, c.happened_at, c.recorded_at, "+
			"coalesce(r.id, 0), r.place, r.kind, r.item, r.lot_id, coalesce(r.qty, 0), coalesce(r.settled, 0), "+
			"coalesce(r.pool, 0), r.note FROM bag_"+of.kind+" c LEFT JOIN reported r ON r."+of.kind+"_id = c.id"+w.String())
		args = append(args, w.args...)
	}
	var all []inventory.UnderReview
	index := map[inventory.ReportKey]int{}
	err := r.each(strings.Join(texts, " UNION ALL ")+" ORDER BY 7", args, func(rows *sql.Rows) error {
		u, said, err := scanReported(rows)
		i, known := index[u.ReportKey]
		if !known {
			i, index[u.ReportKey], all = len(all), len(all), append(all, u)
		}
		if said.ID != 0 {
			all[i].Says = append(all[i].Says, said)
		}
		return err
	})
	slices.SortStableFunc(all, func(a, b inventory.UnderReview) int {
		return cmp.Or(cmp.Compare(a.RecordedAt, b.RecordedAt), cmp.Compare(a.UseID, b.UseID),
			cmp.Compare(a.CheckID, b.CheckID))
	})
	return all, failure("list reports under review", "", err)
}

func narrowReported(w *where, f inventory.UnderReviewFilter) {
	w.and("c.status = ?", string(inventory.StatusToReview))
	among(w, "(c.bag IN ? OR r.place IN ?)", f.Places)
	const at = " IN (SELECT code FROM place WHERE kind = 'bag' AND at_station IN ?)"
	among(w, "(c.bag"+at+" OR r.place"+at+")", f.AtStations)
}

func scanReported(rows *sql.Rows) (u inventory.UnderReview, said inventory.Reported, err error) {
	var of string
	err = rows.Scan(&of, &u.CheckID, &u.Bag, &u.By, &u.SentBy, (*instant)(&u.HappenedAt), (*instant)(&u.RecordedAt),
		&said.ID, (*code)(&said.Place), (*code)(&said.Kind), (*code)(&said.Item), (*ref)(&said.LotID), &said.Qty,
		&said.Settled, &said.Pool, (*code)(&said.Note)) // none where it says nothing
	if of == "use" {
		u.CheckID, u.UseID = 0, u.CheckID
	}
	u.Report, said.ReportKey = u.ReportKey.String(), u.ReportKey
	return u, said, err
}

func (w writer) AddReported(says []inventory.Reported) error {
	rows := mapped(says, func(r inventory.Reported) reportedRow {
		row := convert[reportedRow](r)
		row.ID = 0
		return row
	})
	return w.add("add what a report says", "", &rows)
}

// SetReported stores what became of things that reports say.
func (w writer) SetReported(says []inventory.Reported) error {
	if len(says) == 0 {
		return nil
	}
	var settled, pool []any
	ids := make([]int64, len(says))
	for i, r := range says {
		ids[i] = r.ID
		settled, pool = append(settled, r.ID, r.Settled), append(pool, r.ID, r.Pool)
	}
	of := "CASE id" + strings.Repeat(" WHEN ? THEN CAST(? AS BIGINT)", len(says)) + " END"
	return w.set("settle reports", "thing reported", "UPDATE reported SET settled = "+of+", pool = "+of+" WHERE id IN "+
		sqltext.Marks(len(ids)), slices.Concat(settled, pool, sqltext.Args(ids))...)
}
