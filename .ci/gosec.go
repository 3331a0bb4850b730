// Command gosec looks at the packages in some folders with all rules of gosec. It is gosec's own command without the
// clients of machine models that it brings, which take longer to compile than it takes to look.
package main

import (
	"fmt"
	"io"
	"log"
	"os"
	"runtime"

	"github.com/securego/gosec/v2"
	"github.com/securego/gosec/v2/analyzers"
	"github.com/securego/gosec/v2/rules"
)

func main() {
	c := gosec.NewConfig()
	c.SetGlobal(gosec.NoSecRequireRules, "true") // each exception names its rule, and its reason
	c.SetGlobal(gosec.NoSecRequireJustification, "true")
	a := gosec.NewAnalyzer(c, false, true, false, runtime.NumCPU(), log.New(io.Discard, "", 0))
	a.LoadRules(rules.Generate(false).RulesInfo())
	a.LoadAnalyzers(analyzers.Generate(false).AnalyzersInfo())
	if err := a.Process(nil, os.Args[1:]...); err != nil {
		log.Fatal(err)
	}
	found, looked, failed := a.Report()
	for _, x := range found {
		fmt.Printf("%s:%s: %s %s\n", x.File, x.Line, x.RuleID, x.What)
	}
	fmt.Printf("%d files, %d nosec, %d found, errors: %v\n", looked.NumFiles, looked.NumNosec, len(found), failed)
	if len(found) > 0 || len(failed) > 0 || looked.NumFiles == 0 {
		os.Exit(1)
	}
}
