package rotation_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest/outside"
	"stowkeeper/inventory/rotation"
)

// large makes a case of a whole service: a use now and then, a par near what is held, some short-dated units.
func large(rnd *rand.Rand, nplaces, nbatches, ends int) ([]rotation.Place, []rotation.Batch) {
	places, batches := make([]rotation.Place, nplaces), make([]rotation.Batch, nbatches)
	for i := range batches {
		batches[i] = rotation.Batch{Place: rnd.IntN(nplaces), End: rnd.IntN(ends), Qty: 1 + rnd.IntN(12)}
	}
	for p := range places {
		places[p].Other, places[p].Use = rnd.IntN(10), make([]int, ends)
		rate, n := rnd.Float64()*12/float64(ends), 0.0
		for e := range ends {
			n += rate * 2 * rnd.Float64()
			places[p].Use[e] = int(n)
		}
	}
	for p, n := range held(places, batches) {
		if places[p].Par = max(0, n-rnd.IntN(3)); rnd.IntN(3) > 0 {
			places[p].Most = n
		}
	}
	return places, batches
}

// linear writes a case as a linear programme in the words of its rules: a variable for each batch and place, and for
// others from each place to each; what a place uses through an end date bounds all that is used there by then.
func linear(places []rotation.Place, batches []rotation.Batch) string {
	var out strings.Builder
	now, pays := held(places, batches), 1+sum(held(places, batches))
	objective, uses := []string{}, map[[2]int][]string{}
	bound, in := make([][]string, len(batches)), make([][]string, len(places))
	gives := make([][]string, len(places))
	for i, b := range batches {
		for q := range places {
			v, gain := fmt.Sprintf("x_%d_%d", i, q), pays
			if q != b.Place {
				gain--
				in[q] = append(in[q], "+ "+v)
				in[b.Place] = append(in[b.Place], "- "+v)
			}
			objective = append(objective, fmt.Sprintf("+ %d %s", gain, v))
			bound[i] = append(bound[i], "+ "+v)
			for e := b.End; e < len(places[q].Use); e++ {
				uses[[2]int{q, e}] = append(uses[[2]int{q, e}], "+ "+v)
			}
		}
	}
	for p := range places {
		for q := range places {
			if v := fmt.Sprintf("y_%d_%d", p, q); p != q {
				objective = append(objective, "- "+v)
				in[q], in[p] = append(in[q], "+ "+v), append(in[p], "- "+v)
				gives[p] = append(gives[p], "+ "+v)
			}
		}
	}
	line := func(terms []string, sign string, n int) {
		fmt.Fprintf(&out, "%s %s %d\n", strings.Join(terms, "\n"), sign, n)
	}
	fmt.Fprintf(&out, "Maximize\n%s\nSubject To\n", strings.Join(objective, "\n"))
	for i, b := range batches {
		line(bound[i], "<=", b.Qty)
	}
	for p, place := range places {
		line(in[p], ">=", min(place.Par, now[p])-now[p])
		if place.Most > 0 {
			line(in[p], "<=", max(place.Most, now[p])-now[p])
		}
		line(gives[p], "<=", place.Other)
		for e, n := range place.Use {
			if terms := uses[[2]int{p, e}]; len(terms) > 0 {
				line(terms, "<=", n)
			}
		}
	}
	out.WriteString("End\n")
	return out.String()
}

// glpk solves a problem in a file and returns the objective.
func glpk(t testing.TB, format, problem string) int {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in"), filepath.Join(dir, "out")
	require.NoError(t, os.WriteFile(in, []byte(problem), 0o600))
	said, err := exec.Command(outside.Tool(t, "glpsol"), format, in, "--write", out).CombinedOutput()
	require.NoError(t, err, "%s", said)
	text, err := os.ReadFile(out)
	require.NoError(t, err)
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); len(f) == 7 && f[0] == "s" { // s bas ROWS COLUMNS f f OBJECTIVE
			objective, err := strconv.ParseFloat(f[6], 64)
			require.NoError(t, err)
			return int(objective + 0.5)
		}
	}
	t.Fatalf("no solution: %s", said)
	return 0
}

// TestEqualsGLPK: on 200 larger cases the plan is as good as the optimum of a linear programme.
func TestEqualsGLPK(t *testing.T) {
	outside.Tool(t, "glpsol")
	rnd := rand.New(rand.NewPCG(21, 61))
	for i := range 200 {
		places, batches := large(rnd, 5+rnd.IntN(20), 5+rnd.IntN(35), 1+rnd.IntN(8))
		plan := rotation.Best(places, batches)
		carry(t, places, batches, plan)
		pays := 1 + sum(held(places, batches))
		require.Equal(t, glpk(t, "--lp", linear(places, batches)), pays*sum(plan.Used)-moved(plan), "case %d", i)
	}
}

// BenchmarkBest has 200 places and 300 short-dated batches. GLPK solves the linear programmes of the same cases, and
// times-ours is how many times as long that took as our first go at it.
func BenchmarkBest(b *testing.B) {
	for seed := range 3 {
		places, batches := large(rand.New(rand.NewPCG(uint64(seed), 7)), 200, 300, 52)
		b.Run(fmt.Sprintf("Ours/%d", seed), func(b *testing.B) {
			for b.Loop() {
				rotation.Best(places, batches)
			}
		})
		b.Run(fmt.Sprintf("GLPK/%d", seed), func(b *testing.B) {
			problem := linear(places, batches)
			start := time.Now()
			rotation.Best(places, batches)
			ours := time.Since(start)
			b.ResetTimer()
			for range b.N {
				glpk(b, "--lp", problem)
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(ours), "times-ours")
		})
	}
}
