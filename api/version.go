package api

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

// Changing is a request that makes a new version of something.
type Changing struct {
	IfMatch string `header:"If-Match"`
}

// changeOf is one of something that the path names by its code.
type changeOf[B any] struct {
	ByCode
	Changing
	Body B
}

// etag writes a version as an entity tag (RFC 9110, 8.8.3).
func etag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }

// version reads the version that the caller means to replace. current is
// answered for *, which stands for whatever is there.
func (c Changing) version(current int64) (int64, error) {
	text := strings.TrimSpace(c.IfMatch)
	switch text {
	case "":
		return 0, newProblem(http.StatusPreconditionRequired, "send If-Match with the ETag of the version that you replace")
	case "*":
		return current, nil
	}
	tag, ok := strings.CutPrefix(text, `"`)
	tag, closed := strings.CutSuffix(tag, `"`)
	n, err := strconv.ParseInt(tag, 10, 64)
	if !ok || !closed || err != nil || n < 1 {
		return 0, invalid("header", "If-Match", "send one ETag as it was answered, quotes included")
	}
	return n, nil
}

// merge writes the fields that a change gives over a value, and leaves the
// others as they are. Both sides go by their JSON names.
func merge[T any](into T, change any) (T, error) {
	b, err := json.Marshal(change)
	if err == nil {
		err = json.Unmarshal(b, &into)
	}
	return into, err
}

func oneOf[T any](v T, version int64, err error) (*one[T], error) {
	if err != nil {
		return nil, err
	}
	return &one[T]{ETag: etag(version), Body: v}, nil
}

// ByCode is a path parameter that names something by its code.
type ByCode struct {
	Code string `path:"code" maxLength:"200"`
}

func (b ByCode) code() string { return inventory.NormalCode(b.Code) }

// ByID is a path parameter that names something by its id.
type ByID struct {
	ID int64 `path:"id" minimum:"1"`
}
