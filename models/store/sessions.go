package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"
)

// Sessions keeps the sessions of signed-in people. It has the methods of the
// session library's store with a context.
type Sessions struct{ s *Store }

// Sessions returns the session store.
func (s *Store) Sessions() *Sessions { return &Sessions{s} }

// FindCtx returns the data of a session that has not expired.
func (k *Sessions) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	var r sessionRecord
	err = k.s.reader.WithContext(ctx).Where("token = ? AND expiry > ?", token, micros(time.Now())).Take(&r).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, false, nil
	}
	return r.Data, err == nil, k.s.fault(err)
}

// CommitCtx saves a session and forgets expired ones.
func (k *Sessions) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	g := k.s.writer.WithContext(ctx)
	if err := g.Where("expiry <= ?", micros(time.Now())).Delete(&sessionRecord{}).Error; err != nil {
		return k.s.fault(err)
	}
	err := g.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "token"}}, UpdateAll: true}).
		Create(&sessionRecord{token, data, micros(expiry)}).Error
	return k.s.fault(err)
}

// DeleteCtx ends a session.
func (k *Sessions) DeleteCtx(ctx context.Context, token string) error {
	return k.s.fault(k.s.writer.WithContext(ctx).Where("token = ?", token).Delete(&sessionRecord{}).Error)
}

// Find, Commit and Delete are the same without a context.
func (k *Sessions) Find(token string) ([]byte, bool, error) {
	return k.FindCtx(context.Background(), token)
}

// Commit saves a session.
func (k *Sessions) Commit(token string, data []byte, expiry time.Time) error {
	return k.CommitCtx(context.Background(), token, data, expiry)
}

// Delete ends a session.
func (k *Sessions) Delete(token string) error { return k.DeleteCtx(context.Background(), token) }
