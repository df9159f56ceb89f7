"""All benches, one after the other, as python -m tests.bench runs them."""

from tests.bench import bench_matching, bench_netting, bench_writer

for bench in (bench_writer, bench_netting, bench_matching):
    print(f"--- {bench.__name__}")
    bench.main()
