// Package secret hashes PINs and passwords with Argon2id.
package secret

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"sync/atomic"

	"golang.org/x/crypto/argon2"
)

// The cost of one hash: 19 MiB, 2 passes, 1 lane, the least that OWASP's Password Storage Cheat Sheet asks of
// Argon2id. A short PIN is not saved by any cost: what protects it is the growing wait after wrong tries.
const (
	memoryKiB = 19 * 1024
	passes    = 2
	lanes     = 1
	saltBytes = 16
	keyBytes  = 32
)

// atOnce keeps sign-ins from using up the memory: so many hashes run at a time. waiting are those in line for it.
var (
	atOnce  = make(chan struct{}, 2)
	waiting atomic.Int32
)

// longest is how many may wait: the last of them waits about a second.
const longest = 40

// Argon2id hashes and compares secrets.
type Argon2id struct{}

// Hash returns the secret's hash in the PHC string form.
func (Argon2id) Hash(secret string) (string, error) {
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", err
	}
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memoryKiB, passes, lanes,
		encode(salt), encode(derive(secret, salt, memoryKiB, passes, lanes, keyBytes))), nil
}

// Match tells whether a secret belongs to a hash. An empty or broken hash
// matches nothing, and takes as long to say so.
func (Argon2id) Match(hash, secret string) bool {
	var version int
	var memory, time uint32
	var threads uint8
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		return spend(secret)
	}
	_, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &memory, &time, &threads)
	salt, errSalt := decode(parts[4])
	key, errKey := decode(parts[5])
	if err != nil || errSalt != nil || errKey != nil || version != argon2.Version || len(key) == 0 || time < 1 ||
		time > 64 || threads < 1 || memory > 1<<20 {
		return spend(secret)
	}
	got := derive(secret, salt, memory, time, threads, uint32(len(key))) // #nosec G115 -- a text of a row
	return subtle.ConstantTimeCompare(got, key) == 1
}

// spend takes the time of a comparison and fails.
func spend(secret string) bool {
	derive(secret, make([]byte, saltBytes), memoryKiB, passes, lanes, keyBytes)
	return false
}

// Full tells whether so many wait that nobody should join them.
func (Argon2id) Full() bool { return waiting.Load() >= longest }

func derive(secret string, salt []byte, memory, time uint32, threads uint8, length uint32) []byte {
	waiting.Add(1)
	atOnce <- struct{}{}
	waiting.Add(-1)
	defer func() { <-atOnce }()
	return argon2.IDKey([]byte(secret), salt, time, memory, threads, length)
}

func encode(b []byte) string          { return base64.RawStdEncoding.EncodeToString(b) }
func decode(s string) ([]byte, error) { return base64.RawStdEncoding.DecodeString(s) }
