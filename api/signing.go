package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/shift"
)

// noSecrets matches nothing: where the program brings nothing to compare PINs with, nobody can sign.
type noSecrets struct{}

func (noSecrets) Hash(string) (string, error) { return "", inventory.Refuse(inventory.Internal, "") }
func (noSecrets) Match(string, string) bool   { return false }

// signedBody is a body that may carry the signatures of two people.
type signedBody interface{ Signed() account.Signing }

// signsAlone is a body that is one person's signature.
type signsAlone interface{ Alone() account.Signature }

// signs tells whether anybody signs with a body.
func signs(body any) bool {
	if _, ok := body.(signsAlone); ok {
		return true
	}
	b, ok := body.(signedBody)
	return ok && !b.Signed().None()
}

// signedBy proves whoever signs for a request, before it is done, and returns the context in which by gives the actor
// with those proofs. PINs are marshalled as empty texts, so neither the hash of a body nor a log holds them.
func (s *server) signedBy(ctx context.Context, body any) (context.Context, error) {
	c := callerOf(ctx)
	var err error
	switch b := body.(type) {
	case signsAlone:
		c.actor, err = s.svc.Account.SignAlone(ctx, c.actor, b.Alone(), s.opt.Secrets)
	case signedBody:
		c.actor, err = s.svc.Account.Sign(ctx, c.actor, b.Signed(), s.opt.Secrets)
	}
	return context.WithValue(ctx, callerKey{}, c), err
}

// The bodies below are what the domain takes, with signatures beside it.

type signedReceipt struct {
	inventory.Receipt
	account.Signing
}

type signedReceiptCorrection struct {
	ledger.ReceiptCorrection
	account.Signing
}

type signedOpening struct {
	ledger.Opened
	account.Signing
}

type signedIdentification struct {
	ledger.Identification
	account.Signing
}

type signedClass struct {
	ledger.Class
	account.Signing
}

type signedTrip struct {
	shift.AwayTrip
	account.Signing
}

type signedCheckDecision struct {
	shift.CheckDecision
	account.Signing
}

type signedUseDecision struct {
	shift.UseDecision
	account.Signing
}
