//go:build unix

package main

import "golang.org/x/sys/unix"

// freeIn is how many bytes may still be written into a folder, 0 where that is not known.
func freeIn(folder string) int64 {
	var s unix.Statfs_t
	if unix.Statfs(folder, &s) != nil {
		return 0
	}
	return int64(s.Bavail) * int64(s.Bsize) // #nosec G115 -- a disk has fewer bytes than that
}
