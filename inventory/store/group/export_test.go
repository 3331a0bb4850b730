package group

import "time"

// Waiting tells how many wait for their turn.
func (q *Queue) Waiting() int { return int(q.waiting.Load()) }

// WaitAtMost sets for how long a transaction takes further writers.
func (q *Queue) WaitAtMost(d time.Duration) { q.longest = d }
