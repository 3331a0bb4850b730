package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/verify"
)

// headsFile is where the heads of a database are kept beside it, so that a file which lost its newest records is found
// when it is served again: an older copy, or one without the log that lay beside it.
func headsFile(db string) string { return db + ".heads" }

// verifiedFile is by its time when all records of a database were found in order last.
func verifiedFile(db string) string { return db + ".verified" }

// noteVerified notes that they were just now; it is a help that is done without.
func noteVerified(db string) {
	if !store.IsPostgres(db) {
		_ = errors.Join(os.WriteFile(verifiedFile(db)+".new", nil, 0o600),
			os.Rename(verifiedFile(db)+".new", verifiedFile(db)))
	}
}

func readHeads(file string) ([]inventory.Head, error) {
	text, err := os.ReadFile(file) // #nosec G304 -- beside the operator's file
	if err != nil {
		return nil, err
	}
	return verify.ParseHeads(string(text))
}

// writeHeads keeps heads, all of them or those that were kept before, also where the power fails.
func writeHeads(file string, heads []inventory.Head) error {
	var text strings.Builder
	for _, h := range heads {
		fmt.Fprintln(&text, h)
	}
	f, err := os.OpenFile(file+".new", os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600) // #nosec G304 -- likewise
	if err != nil {
		return err
	}
	_, err = f.WriteString(text.String())
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(file+".new", file)
}

// missing says in words by how much chains are shorter than they were.
func missing(have, kept []inventory.Head) []string {
	seq, out := map[string]int64{}, []string{}
	for _, h := range have {
		seq[h.Station] = h.Seq
	}
	for _, h := range kept {
		if n := h.Seq - seq[h.Station]; n > 0 {
			out = append(out, fmt.Sprintf("%d entries of chain %s", n, h.ChainName()))
		}
	}
	return out
}

// sameAsServed refuses to serve a file that lacks what was served from it before.
func sameAsServed(ctx context.Context, svc *services.All, db string) error {
	kept, err := readHeads(headsFile(db))
	if store.IsPostgres(db) || errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	have, err := svc.Verify.Heads(ctx)
	if lost := missing(have, kept); err == nil && len(lost) > 0 {
		return inventory.InvalidField("db", db+" lacks what was recorded in it before ("+strings.Join(lost, ", ")+
			"): it is an older copy, or the -wal file beside it is gone. If that is meant, remove "+headsFile(db))
	}
	return err
}
