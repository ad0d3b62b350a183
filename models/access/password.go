package access

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"runtime"
	"time"

	"github.com/alexedwards/argon2id"
	"golang.org/x/crypto/argon2"

	"rimledger/models"
)

// Bounds of a password, in bytes.
const (
	MinPassword = 10
	MaxPassword = 200
)

// How long a password waits for a core to be hashed on, and when to come back
// if none is free by then; chosen by us.
const (
	hashWait  = time.Second
	busyRetry = 5 * time.Second
)

var errBusy = &models.Error{Kind: models.Unavailable, Wait: busyRetry, Msg: fmt.Sprintf(
	"too many passwords are being checked just now; wait %.0f seconds, then try again", busyRetry.Seconds())}

// hashing contains one value for each password that is hashed at the moment. Each takes
// 64 MiB and keeps a core busy, so more at once than cores only cost memory.
var hashing = make(chan struct{}, runtime.GOMAXPROCS(0))

// strangers contains one value for each password of a stranger that is hashed or next
// to be. All other strangers wait here, so that whoever is known waits for one
// password to be done at most, however many strangers try.
var strangers = make(chan struct{}, cap(hashing))

// Caller is who wants a password hashed, as far as it is known before.
type Caller int

// Strangers wait behind each other; whoever is known, because they are signed in or
// use a device or an address of theirs, goes before all of them.
const (
	Stranger Caller = iota
	Known
)

// onCore runs work as soon as fewer passwords are hashed than there are cores.
// It returns an Unavailable error if that takes longer than hashWait.
func onCore(ctx context.Context, c Caller, work func()) error {
	tooLong := time.NewTimer(hashWait)
	defer tooLong.Stop()

	queues := []chan struct{}{hashing}
	if c == Stranger {
		queues = []chan struct{}{strangers, hashing}
	}

	// Deferred calls run in reverse: the core is free before the next stranger comes for it.
	for _, q := range queues {
		select {
		case q <- struct{}{}:
			defer func() { <-q }()
		case <-ctx.Done():
			return ctx.Err()
		case <-tooLong.C:
			return errBusy
		}
	}

	work()
	return nil
}

// HashPassword returns the argon2id hash of a password between MinPassword and
// MaxPassword bytes, or an Invalid error that does not repeat it. It hashes no
// more passwords at once than there are cores, and returns an Unavailable error
// if none is free for a second.
func HashPassword(ctx context.Context, password string) (string, error) {
	if len(password) < MinPassword || len(password) > MaxPassword {
		var f models.Faults
		f.Add("password", "", "must have %d to %d characters", MinPassword, MaxPassword)
		return "", f.Err("password")
	}

	var hash string
	var err error
	create := func() { hash, err = argon2id.CreateHash(password, argon2id.DefaultParams) }
	if busy := onCore(ctx, Known, create); busy != nil {
		return "", busy
	}
	return hash, err
}

// nobody is the hash of no password: its key is random. Comparing with it takes
// as long as with a person's.
var nobody = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version,
	argon2id.DefaultParams.Memory, argon2id.DefaultParams.Iterations, argon2id.DefaultParams.Parallelism,
	randomText(argon2id.DefaultParams.SaltLength), randomText(argon2id.DefaultParams.KeyLength))

func randomText(bytes uint32) string {
	b := make([]byte, bytes)
	_, _ = rand.Read(b) // never fails: crypto/rand aborts the program instead
	return base64.RawStdEncoding.EncodeToString(b)
}

// CheckPassword reports whether password has this hash. An empty hash never
// matches and takes as long as a wrong password; a password longer than
// MaxPassword never matches and takes no time. Like HashPassword it returns an
// Unavailable error if no core is free for a second.
func CheckPassword(ctx context.Context, c Caller, password, hash string) (bool, error) {
	if len(password) > MaxPassword {
		return false, nil
	}

	against := hash
	if hash == "" {
		against = nobody
	}

	var same bool
	var err error
	compare := func() { same, err = argon2id.ComparePasswordAndHash(password, against) }
	if busy := onCore(ctx, c, compare); busy != nil {
		return false, busy
	}

	return same && err == nil && hash != "", nil
}
