"""A study on a cluster: dask.distributed with worker processes gives what one thread gives."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats as ss
from study_samples import base

from n2osim.studies.montecarlo import monte_carlo


@pytest.mark.campaign
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_dask_cluster_and_serial_agree_to_the_last_bit(tmp_path):
    distributed = pytest.importorskip("distributed")
    spread = {
        "fill": (ss.norm(12.0, 0.2), "lb"),
        "heater.power": ss.uniform(250.0, 100.0),
        "schedule.pass0.duration": ss.uniform(7.0, 4.0),
    }
    how = {"times": np.linspace(0.0, 2000.0, 11), "keep_events": True}
    serial = monte_carlo(base(), spread, 40, seed=9, executor="serial", **how)
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            local_directory=str(tmp_path),
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        pids = set(client.run(__import__("os").getpid).values())
        cloud = monte_carlo(
            base(),
            spread,
            40,
            seed=9,
            executor=client.get_executor(),
            chunk=8,
            checkpoint=tmp_path / "c",
            **how,
        )
    assert len(pids) == 2
    assert cloud.complete and cloud.ok.all() and cloud.names == serial.names
    for name in serial.names:
        np.testing.assert_array_equal(cloud[name], serial[name], err_msg=name)
    np.testing.assert_array_equal(cloud.event_table, serial.event_table)
    np.testing.assert_array_equal(
        cloud.series["pressure_gauge_Pa"], serial.series["pressure_gauge_Pa"]
    )
