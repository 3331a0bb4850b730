package history_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// unrecorded is every method of the writer that the history does not keep of
// itself, with the reason.
var unrecorded = map[string]string{
	"SetBagRecord":   "follows from the check, use, restock or seal",
	"SetBatchRecord": "follows from the inspection, class or notice",
	"AddBatches":     "comes with its receipt, a movement", "EnsureLots": "comes with its movement",
	"LockBag": "changes nothing", "LockBags": "changes nothing", "LockItem": "changes nothing",
	"LockPerson":   "changes nothing",
	"LockAttempts": "changes nothing", "LockDelivery": "changes nothing",
	"LockDocument": "changes nothing", "LockStations": "changes nothing", "LockKept": "changes nothing",
	"PutKept":     "keeps what follows from records",
	"AddOwed":     "comes with its movement",
	"AddReported": "comes with its check or use", "SetReported": "follows from the full check or movement",
	"AddPerson": "the use case records it", "UpdatePerson": "the use case records it",
	"AddToken":    "the use case records it",
	"UpdateToken": "the use case records it", "AddSession": "the use case records it",
	"EndSession":  "the use case records it",
	"EndSessions": "the use case records it", "AddTerminal": "the use case records it",
	"UpdateTerminal": "the use case records it",
	"AddLink":        "what it is used for is recorded", "UseLink": "what it is used for is recorded",
	"SetPersonAttempts": "no history entry", "SetAttempts": "a lock is recorded by the use case",
	"ForgetAttempts": "no history entry",
	"TouchToken":     "no history entry", "TouchSession": "no history entry", "KeepAnswer": "no history entry",
	"AddHistory": "the history itself",
}

// TestEveryWriteIsRecorded: what a person does is in the history, whichever way
// it is written: a new method of the writer is recorded in package history, or
// named above with the reason why not.
func TestEveryWriteIsRecorded(t *testing.T) {
	recorded := map[string]bool{}
	for _, name := range []string{"writer.go", "writer_lists.go"} {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv != nil {
				if of, ok := f.Recv.List[0].Type.(*ast.Ident); ok && of.Name == "writer" {
					recorded[f.Name.Name] = true
				}
			}
		}
	}
	reads := map[string]bool{}
	for m := range reflect.TypeFor[inventory.Reader]().Methods() {
		reads[m.Name] = true
	}
	for m := range reflect.TypeFor[inventory.Writer]().Methods() {
		if reads[m.Name] {
			continue
		}
		assert.NotEqual(t, recorded[m.Name], unrecorded[m.Name] != "",
			"Writer.%s: record it in package history, or give the reason why not in this test", m.Name)
	}
}
