package labels

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAddress(t *testing.T) {
	for _, c := range []struct{ base, code, want string }{
		{"https://kit.example.org", "KD7-442", "HTTPS://KIT.EXAMPLE.ORG/B/KD7-442"},
		{"https://kit.example.org/", "kd7-442", "HTTPS://KIT.EXAMPLE.ORG/B/KD7-442"},
		{"http://10.0.0.5:8080", "KD7-442", "HTTP://10.0.0.5:8080/B/KD7-442"},
		{"https://example.org/kit", "KD7-442", "https://example.org/kit/b/KD7-442"},
		{"https://example.org/kit/", "KD7-442", "https://example.org/kit/b/KD7-442"},
	} {
		assert.Equal(t, c.want, Address(c.base, c.code))
	}
	assert.Equal(t, "HTTPS://KIT.EXAMPLE.ORG/S/RIV-STORE/TQ-1", Link("https://kit.example.org", "s/RIV-STORE/TQ-1"))
	assert.Equal(t, "https://example.org/kit/d/17", Link("https://example.org/kit/", "d/17"))
	assert.Equal(t, Alphanumeric, ModeOf(Address("http://10.0.0.5:8080", "KD7-442")))
}
