// Package mail sends finished messages to an SMTP server (RFC 5321), one
// recipient at a time, and distinguishes refusals for good from failures that a later
// try may cure. It writes no texts, keeps no queue and does not try twice.
package mail

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// Message is one mail to one recipient, with the same content as plain text
// and as HTML.
type Message struct {
	From, To            string // addresses, with or without a name
	Subject, Text, HTML string
	// List names what the mail is one of, in letters, digits, dots and hyphens, such as
	// digest.0190c0de; empty: it is not one of many.
	List string
	// Key identifies the mail when it is sent again, such as the depot and the
	// week: the Message-ID derives from Key, To and the sender's domain, so that
	// a repeat can be recognized.
	Key string
}

// Sender sends one message. It returns nil once the server has accepted it,
// ErrRefused if the server will never accept it, any other error if a later try
// may succeed.
type Sender interface {
	Send(ctx context.Context, m Message) error
}

// ErrRefused is a refusal for good: the server answered 5xx to this recipient or this
// content, or the recipient is not a mail address.
var ErrRefused = errors.New("refused for good")

// ID returns the Message-ID of m without the angle brackets (RFC 5322, 3.6.4).
// Equal Key, To and sender's domain give an equal ID, whatever the case of To. The ID
// does not reveal the recipient.
func (m Message) ID() string {
	sum := sha256.Sum256([]byte(m.Key + "\x00" + strings.ToLower(m.To)))
	return hex.EncodeToString(sum[:16]) + "@" + domain(m.From)
}

// domain returns the part of an address behind the @, or "localhost".
func domain(address string) string {
	address = strings.TrimSuffix(strings.TrimSpace(address), ">")
	if i := strings.LastIndexByte(address, '@'); i >= 0 && i+1 < len(address) {
		return strings.ToLower(address[i+1:])
	}
	return "localhost"
}

// refused returns ErrRefused with its reason.
func refused(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrRefused, fmt.Sprintf(format, args...))
}
