package inventory

// Suggestion is something that exists and whose code comes near to one that does
// not.
type Suggestion struct {
	Code string `json:"code"`
	Name string `json:"name"`
}
