package main

import (
	"bytes"
	"encoding/json"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// root is the top of the house, seen from here.
const root = "../.."

// listed is what go list says of a package.
type listed struct {
	ImportPath string
	Doc        string
	Imports    []string
	Deps       []string
	Standard   bool
	Module     *struct{ Path string }
}

// goList runs go list and decodes its answers.
func goList(t *testing.T, args ...string) []listed {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-json=ImportPath,Doc,Imports,Deps,Standard,Module"}, args...)...)
	cmd.Dir = root
	var failures bytes.Buffer
	cmd.Stderr = &failures
	out, err := cmd.Output()
	require.NoError(t, err, "%s", &failures)
	var all []listed
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		err := d.Decode(&p)
		if err == io.EOF {
			return all
		}
		require.NoError(t, err)
		all = append(all, p)
	}
}

var packagesOnce = struct {
	sync.Once
	all []listed
}{}

// packages is every package of the house.
func packages(t *testing.T) []listed {
	t.Helper()
	packagesOnce.Do(func() { packagesOnce.all = goList(t, "./...", "./testdata") })
	require.NotEmpty(t, packagesOnce.all)
	return packagesOnce.all
}

// under tells whether a path is a package or lies below it.
func under(path, top string) bool { return path == top || strings.HasPrefix(path, top+"/") }

// arrows is what each package of the house imports of ours, from the bottom to the top: nothing else, and nothing
// less. Whoever needs another arrow writes it here, where one sees which way it points. All but labels may word texts
// with inventory/message, so no arrow to it is drawn.
var arrows = []struct{ from, to string }{
	{"inventory/message", ""},
	{"inventory/amount", ""},
	{"inventory/barcode", ""},
	{"inventory/barcode/photo", ""},
	{"inventory/demand", ""},
	{"inventory/money", ""},
	{"inventory/ical", ""},
	{"inventory/donor", ""},
	{"inventory/reorder", ""},
	{"inventory/rotation", ""},
	{"inventory/secret", ""},
	{"inventory/survival", ""},
	{"inventory/table", ""},
	{"inventory/temperature", "inventory/table"},
	{"inventory/workbook", "inventory/table"},
	{"labels", "inventory/message"},
	{"testdata", ""},

	{"inventory", "inventory/amount inventory/barcode inventory/donor inventory/money inventory/reorder"},
	{"inventory/scope", "inventory"},
	{"inventory/rests", "inventory"},
	{"inventory/account", "inventory"},
	{"inventory/history", "inventory inventory/account"},
	{"inventory/ledger", "inventory inventory/account inventory/barcode inventory/scope"},
	{"inventory/lists", "inventory inventory/barcode inventory/donor inventory/history inventory/ledger inventory/scope"},
	{"inventory/stock", "inventory inventory/ledger inventory/lists inventory/scope"},
	{"inventory/shift", "inventory inventory/account inventory/amount inventory/history inventory/ledger " +
		"inventory/lists inventory/scope inventory/stock"},
	{"inventory/register", "inventory inventory/account inventory/amount inventory/ledger inventory/lists " +
		"inventory/scope inventory/stock"},
	{"inventory/notice", "inventory inventory/ledger inventory/lists inventory/stock"},
	{"inventory/transfer", "inventory inventory/ledger inventory/lists inventory/scope"},
	{"inventory/count", "inventory inventory/ledger inventory/lists inventory/register inventory/scope"},
	{"inventory/order", "inventory inventory/ledger inventory/lists inventory/money inventory/reorder inventory/scope"},
	{"inventory/agenda", "inventory inventory/count inventory/ical inventory/lists inventory/notice inventory/scope"},
	{"inventory/storeroom", "inventory inventory/account inventory/barcode inventory/ledger inventory/lists " +
		"inventory/order inventory/scope inventory/shift inventory/stock"},
	{"inventory/report", "inventory inventory/demand inventory/lists inventory/money inventory/order inventory/reorder " +
		"inventory/scope"},
	{"inventory/search", "inventory inventory/barcode inventory/scope inventory/stock"},
	{"inventory/verify", "inventory inventory/ledger inventory/lists inventory/register"},
	{"inventory/exchange", "inventory inventory/account inventory/amount inventory/barcode inventory/ledger " +
		"inventory/lists inventory/money inventory/notice inventory/shift inventory/table"},
	{"inventory/services", "inventory inventory/account inventory/agenda inventory/count inventory/exchange " +
		"inventory/history inventory/ledger inventory/lists inventory/notice inventory/order inventory/register " +
		"inventory/report " +
		"inventory/search inventory/shift inventory/stock inventory/storeroom inventory/transfer inventory/verify"},

	{"inventory/store/alike", ""},
	{"inventory/store/sqltext", ""},
	{"inventory/store/bulk", "inventory/store/sqltext"},
	{"inventory/store/fact", "inventory"},
	{"inventory/store/fault", ""},
	{"inventory/store/group", ""},
	{"inventory/store/migrations", ""},
	{"inventory/store/judged", "inventory inventory/store/sqltext"},
	{"inventory/store/prepared", ""},
	{"inventory/store/slow", ""},
	{"inventory/store/sqlitefile", "inventory"},
	{"inventory/store/trial", "inventory/store/sqlitefile"},
	{"inventory/store", "inventory inventory/amount inventory/store/alike inventory/store/bulk " +
		"inventory/store/fact inventory/store/fault inventory/store/group inventory/store/judged " +
		"inventory/store/migrations inventory/store/prepared inventory/store/slow inventory/store/sqlitefile " +
		"inventory/store/sqltext inventory/store/trial"},
	{"inventory/store/whole", "inventory inventory/store inventory/store/fact inventory/store/migrations"},
	{"inventory/store/upload", "inventory inventory/store inventory/store/migrations"},
	{"inventory/store/storetest",
		"inventory inventory/history inventory/money inventory/store inventory/store/migrations inventory/store/prepared"},
	{"labels/labelof", "inventory/storeroom labels"},
	{"labels/labelstest", ""},
	{"inventory/inventorytest", "inventory"},
	{"inventory/inventorytest/outside", ""},
	{"inventory/fixture", "inventory inventory/account inventory/inventorytest inventory/ledger inventory/lists " +
		"inventory/notice inventory/report inventory/services inventory/stock inventory/storeroom"},

	{"web/text", ""},
	{"web", "inventory inventory/account inventory/amount inventory/barcode inventory/barcode/photo " +
		"inventory/count inventory/exchange inventory/history inventory/ledger inventory/lists inventory/money " +
		"inventory/notice inventory/order inventory/register " +
		"inventory/report inventory/rests inventory/search inventory/services inventory/shift inventory/stock " +
		"inventory/storeroom inventory/table inventory/transfer inventory/workbook labels labels/labelof web/text"},
	{"api", "inventory inventory/account inventory/amount inventory/count inventory/ledger inventory/lists " +
		"inventory/notice inventory/order inventory/register inventory/report inventory/services inventory/shift " +
		"inventory/stock inventory/storeroom inventory/table inventory/transfer inventory/workbook labels labels/labelof"},
	{"cmd/stowkeeper/demo", "inventory inventory/account inventory/amount inventory/count inventory/ledger " +
		"inventory/lists inventory/money inventory/notice inventory/register inventory/services inventory/shift " +
		"inventory/stock inventory/transfer"},
	{"cmd/stowkeeper/bench", "inventory inventory/secret inventory/services inventory/shift inventory/store " +
		"inventory/store/prepared labels"},
	{"cmd/stowkeeper", "api cmd/stowkeeper/bench cmd/stowkeeper/demo inventory inventory/account inventory/exchange " +
		"inventory/lists inventory/report inventory/secret inventory/services inventory/store inventory/store/upload " +
		"inventory/store/whole inventory/storeroom inventory/table inventory/verify inventory/workbook labels " +
		"labels/labelof testdata web"},
}

// TestArrows proves that the packages of the house import each other as drawn, and only downwards.
func TestArrows(t *testing.T) {
	got := map[string]string{}
	for _, p := range packages(t) {
		var ours []string
		for _, path := range p.Imports {
			name, ok := strings.CutPrefix(path, "stowkeeper/")
			if ok && (name != "inventory/message" || under(p.ImportPath, "stowkeeper/labels")) {
				ours = append(ours, name)
			}
		}
		slices.Sort(ours)
		got[strings.TrimPrefix(p.ImportPath, "stowkeeper/")] = strings.Join(ours, " ")
	}
	drawn := map[string]bool{}
	for _, a := range arrows {
		for to := range strings.FieldsSeq(a.to) {
			assert.True(t, drawn[to], "%s imports %s, which does not stand below it", a.from, to)
		}
		drawn[a.from] = true
		assert.Equal(t, a.to, got[a.from], a.from)
	}
	for name := range got {
		assert.True(t, drawn[name], "%s is in no arrow: draw it", name)
	}
}

// TestForeign proves for each part of the house what it must not reach, however indirectly.
func TestForeign(t *testing.T) {
	foreign := []string{"net/http", "database/sql", "html/template", "github.com/gin-gonic/gin", "gorm.io/gorm",
		"github.com/danielgtaylor/huma/v2"}
	const inv, st, lab, api, web, cmd = "stowkeeper/inventory", "stowkeeper/inventory/store", "stowkeeper/labels",
		"stowkeeper/api", "stowkeeper/web", "stowkeeper/cmd"
	const labelof = "stowkeeper/labels/labelof"  // stands above labels and the storeroom
	const book = "stowkeeper/inventory/workbook" // its library carries a web client along
	for _, part := range []struct {
		name       string
		of         func(path string) bool
		mustNotSee []string
	}{
		{"inventory", func(p string) bool { return under(p, inv) && !under(p, st) && !under(p, book) }, append(foreign, st,
			book, lab, api, web, cmd)},
		{"workbook", func(p string) bool { return under(p, book) }, []string{st, lab, api, web, cmd, "database/sql",
			"gorm.io/gorm", "github.com/gin-gonic/gin"}},
		{"labels", func(p string) bool { return under(p, lab) && p != labelof }, append(foreign, inv, api, web, cmd)},
		{"store", func(p string) bool { return under(p, st) }, []string{api, web, lab, cmd}},
		{"api", func(p string) bool { return under(p, api) }, []string{web, st, cmd, "database/sql", "gorm.io/gorm"}},
		{"web", func(p string) bool { return under(p, web) }, []string{api, st, cmd, "database/sql", "gorm.io/gorm"}},
	} {
		t.Run(part.name, func(t *testing.T) {
			looked := 0
			for _, p := range packages(t) {
				if !part.of(p.ImportPath) || testOnly.MatchString(p.ImportPath+"/") {
					continue
				}
				looked++
				for _, dep := range p.Deps {
					if dep == inv+"/message" {
						continue // everybody's, and it knows nothing of ours
					}
					i := slices.IndexFunc(part.mustNotSee, func(top string) bool { return under(dep, top) })
					assert.Negative(t, i, "%s reaches %s", p.ImportPath, dep)
				}
			}
			assert.Positive(t, looked)
		})
	}
}

// modules is every module that the binary may hold, with the reason.
var modules = map[string]string{
	"stowkeeper": "this one",

	"github.com/gin-gonic/gin":         "routes of API and pages",
	"github.com/danielgtaylor/huma/v2": "OpenAPI 3.1, request validation and problem documents from Go types",
	"gorm.io/gorm":                     "plain inserts and lookups of the store",
	"gorm.io/driver/postgres":          "gorm's dialect of PostgreSQL",
	"github.com/jackc/pgx/v5":          "driver of PostgreSQL",
	"github.com/glebarez/sqlite":       "gorm's dialect of SQLite without C",
	"github.com/glebarez/go-sqlite":    "what that dialect asks for; our stand-in, see inventory/store/prepared",
	"modernc.org/sqlite":               "SQLite itself, and its driver",
	"github.com/pressly/goose/v3":      "versioned migrations",
	"github.com/alecthomas/kong":       "command line",
	"filippo.io/age":                   "backups that only their owner can read",
	"filippo.io/hpke":                  "age: its keys against quantum computers",
	"go.mau.fi/util":                   "names that look alike, by Unicode's table",
	"codeberg.org/go-pdf/fpdf":         "sheets of labels",
	"github.com/skip2/go-qrcode":       "QR symbols",
	"github.com/makiuchi-d/gozxing":    "reads the barcode on a photo of a pack",
	"golang.org/x/crypto":              "argon2id for PINs and passwords",
	"golang.org/x/term":                "passwords typed unseen",
	"golang.org/x/image":               "the typeface on labels and its outlines",
	"gonum.org/v1/gonum":               "reorder: distributions of what is used",
	"github.com/xuri/excelize/v2":      "XLSX workbooks, in and out",

	"github.com/tdewolff/minify/v2": "scripts in fewer bytes, for a phone on a slow link",
	"github.com/tdewolff/parse/v2":  "minify: reads the scripts",

	"github.com/xuri/efp":              "excelize: formulas, which we do not compute",
	"github.com/xuri/nfp":              "excelize: number formats, which tell dates from numbers",
	"github.com/richardlehane/mscfb":   "excelize: workbooks with a password, which we refuse",
	"github.com/richardlehane/msoleps": "excelize: the same",
	"github.com/tiendc/go-deepcopy":    "excelize: copies of sheets",

	"github.com/gin-contrib/sse":                    "gin: its answers, of which server-sent events are one",
	"github.com/gabriel-vasile/mimetype":            "gin: validator of bindings, which we do not use",
	"github.com/go-playground/locales":              "gin: validator",
	"github.com/go-playground/universal-translator": "gin: validator",
	"github.com/go-playground/validator/v10":        "gin: validator",
	"github.com/leodido/go-urn":                     "gin: validator",
	"github.com/goccy/go-yaml":                      "gin: bindings, which we do not use",
	"github.com/pelletier/go-toml/v2":               "gin: bindings",
	"github.com/ugorji/go/codec":                    "gin: bindings",
	"go.mongodb.org/mongo-driver/v2":                "gin: bindings (its BSON form, no database)",
	"google.golang.org/protobuf":                    "gin: bindings",
	"github.com/mattn/go-isatty":                    "gin: whether its log may have colours",
	"github.com/quic-go/quic-go":                    "gin: HTTP/3, which we do not serve",
	"github.com/quic-go/qpack":                      "gin: HTTP/3",
	"golang.org/x/net":                              "gin: HTTP/2 without TLS",
	"golang.org/x/text":                             "gin, pgx: names of hosts, languages, folded text",
	"golang.org/x/sys":                              "calls of the system, for several of these",

	"golang.org/x/xerrors":           "gozxing: its errors",
	"github.com/jinzhu/inflection":   "gorm: names of tables",
	"github.com/jinzhu/now":          "gorm: reading times",
	"github.com/jackc/pgpassfile":    "pgx: its password file",
	"github.com/jackc/pgservicefile": "pgx: its service file",
	"github.com/jackc/puddle/v2":     "pgx: its pool",
	"golang.org/x/sync":              "pgx, goose: semaphores and groups",

	"github.com/google/uuid":           "SQLite driver: a function of its own",
	"github.com/dustin/go-humanize":    "SQLite without C: messages of its libc",
	"github.com/remyoudompheng/bigfft": "SQLite without C: its libc",
	"modernc.org/libc":                 "SQLite without C: its libc",
	"modernc.org/mathutil":             "SQLite without C: its libc",
	"modernc.org/memory":               "SQLite without C: its libc",
	"github.com/mfridman/interpolate":  "goose: variables in migrations, which we do not use",
	"github.com/sethvargo/go-retry":    "goose: waiting for the lock of migrations",
	"go.uber.org/multierr":             "goose: several errors in one",
}

// TestModules keeps the binary to the modules above. On Linux, where what is
// reached does not depend on the machine, none of them may be out of use.
func TestModules(t *testing.T) {
	used := map[string]bool{}
	for _, p := range goList(t, "-deps", "./cmd/stowkeeper") {
		if p.Standard {
			continue
		}
		require.NotNil(t, p.Module, p.ImportPath)
		used[p.Module.Path] = true
		assert.NotEmpty(t, modules[p.Module.Path], "%s is new in the binary, for %s: give the reason, or leave it out",
			p.Module.Path, p.ImportPath)
		assert.False(t, testOnly.MatchString(p.ImportPath+"/"), "%s is for tests and has no place in the binary",
			p.ImportPath)
	}
	for path := range modules {
		assert.True(t, used[path] || runtime.GOOS != "linux", "%s is no longer in the binary: strike it off", path)
	}
}

// eachFile calls do with every file of a kind below a folder.
func eachFile(t *testing.T, top, extension string, do func(path string)) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && filepath.Ext(path) == extension {
			do(path)
		}
		return err
	}))
}

// TestTopLevel keeps the top of the house as it was drawn.
func TestTopLevel(t *testing.T) {
	want := []string{".ci", ".gitignore", "DEVELOPERS.md", "README.md", "api", "cmd", "go.mod", "go.sum", "inventory",
		"labels", "testdata", "web"}
	assert.Equal(t, want, topLevel(t))
}

// topLevel lists what is kept at the top of the house: as git has it, or, in a
// copy without git, as it lies there.
func topLevel(t *testing.T) []string {
	t.Helper()
	var names []string
	files := exec.Command("git", "ls-files", "-z")
	files.Dir = root
	if out, err := files.Output(); err == nil && len(out) > 0 {
		for path := range strings.SplitSeq(strings.Trim(string(out), "\x00"), "\x00") {
			name, _, _ := strings.Cut(path, "/")
			names = append(names, name)
		}
		return slices.Compact(slices.Sorted(slices.Values(names)))
	}
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestSQLHasNoTabs keeps migrations readable wherever they are looked at.
func TestSQLHasNoTabs(t *testing.T) {
	looked := 0
	eachFile(t, root, ".sql", func(path string) {
		looked++
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.NotContains(t, string(text), "\t", path)
	})
	assert.Positive(t, looked)
}

// TestPackageComments finds packages that do not say what they are for.
func TestPackageComments(t *testing.T) {
	for _, p := range packages(t) {
		assert.NotEmpty(t, p.Doc, p.ImportPath)
	}
}
