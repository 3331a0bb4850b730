package inventory

// RecordKey is the key under which a person's check or use is kept for ever,
// whichever face of the program it came through. No key stays none.
func (a Actor) RecordKey(key string) string {
	if key == "" {
		return ""
	}
	return a.Principal() + "/" + key
}
