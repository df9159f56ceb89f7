"""What a database says of itself: this file knows how to ask the catalogues of SQLite and PostgreSQL.

The listing holds what Alembic's comparison is blind to: triggers, functions, policies, rights, and the text of checks.
"""

from sqlalchemy import Connection, text

_POSTGRESQL = """
WITH ours AS (
    SELECT c.oid, c.relname, c.relowner, c.relacl, c.relrowsecurity, c.relforcerowsecurity
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    WHERE n.nspname = 'public' AND c.relkind = 'r'
)
SELECT relname || ': owner ' || pg_get_userbyid(relowner) AS line FROM ours
UNION ALL
SELECT relname || ': row security' || CASE WHEN relforcerowsecurity THEN ', forced' ELSE '' END
FROM ours WHERE relrowsecurity
UNION ALL
SELECT relname || ': ' || grantee.rolname || ' may ' || lower(acl.privilege_type)
FROM ours CROSS JOIN LATERAL aclexplode(relacl) acl JOIN pg_roles grantee ON grantee.oid = acl.grantee
WHERE acl.grantee <> relowner
UNION ALL
SELECT relname || ': everybody may ' || lower(acl.privilege_type)
FROM ours CROSS JOIN LATERAL aclexplode(relacl) acl WHERE acl.grantee = 0
UNION ALL
SELECT relname || ': ' || conname || ' ' || pg_get_constraintdef(k.oid)
FROM ours JOIN pg_constraint k ON k.conrelid = ours.oid WHERE k.contype <> 'n'
UNION ALL
SELECT relname || ': ' || pg_get_triggerdef(t.oid)
FROM ours JOIN pg_trigger t ON t.tgrelid = ours.oid WHERE NOT t.tgisinternal
UNION ALL
SELECT tablename || ': policy ' || policyname || ' ' || permissive || ' for ' || cmd || ' to ' || roles::text
       || ' using ' || coalesce(qual, '-') || ' with check ' || coalesce(with_check, '-')
FROM pg_policies
UNION ALL
SELECT 'function ' || pg_get_functiondef(p.oid)
FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace WHERE n.nspname = 'public'
UNION ALL
SELECT 'view ' || viewname || ' ' || definition FROM pg_views WHERE schemaname = 'public'
"""

_SQLITE = "SELECT type || ' ' || sql AS line FROM sqlite_master WHERE sql IS NOT NULL"


def listing(connection: Connection) -> str:
    """Give a line for each thing that guards the rows, in an order of its own."""
    asked = _SQLITE if connection.dialect.name == "sqlite" else _POSTGRESQL
    lines = connection.scalars(text(asked)).all()
    return "".join(f"{' '.join(line.split())}\n" for line in sorted(lines))
